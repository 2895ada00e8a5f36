export class UsbSocket { constructor(chip) { this.chip = chip; } }
