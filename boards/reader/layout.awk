# Where things stand on the drawing of the reader; with ../draw.awk.

END {
    row = 13.5
    stub = 62
    small_rows = 9
    bundled["J1"] = bundled["U1"] = bundled["U2"] = bundled["U3"] = bundled["M1"] = 1
    trunk["A"] = 190; label["A"] = "A0 - A12"; mark["A"] = 270
    trunk["D"] = 150; label["D"] = "D0 - D7"; mark["D"] = 455
    trunk["ADDRESS"] = 590; label["ADDRESS"] = "ADDRESS0 - ADDRESS12"; mark["ADDRESS"] = 230
    trunk["DATA"] = 540; label["DATA"] = "DATA0 - DATA7"; mark["DATA"] = 480

    print "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"297mm\" height=\"210mm\" viewBox=\"0 0 1188 840\" font-family=\"DejaVu Sans, sans-serif\">"
    print "<!-- Made by draw.awk from netlist.txt: change those, then `make drawing`. -->"
    print "<rect width=\"1188\" height=\"840\" fill=\"#fff\"/>"
    text(20, 28, 15, "start", "#000", "Reader: wiring", " font-weight=\"bold\"")
    text(190, 28, 9, "start", "#b00000", "Never built: no physical board has been seen. Contacts have names, not numbers: take the numbers from the console's service manual.")
    text(190, 42, 9, "start", "#b00000", "A cartridge goes in and out only while the red light (D16) is off.")

    block("J1", 20, 70, 50, "", "A0 A1 A2 A3 A4 A5 A6 A7 A8 A9 A10 A11 A12 - D0 D1 D2 D3 D4 D5 D6 D7 - V5 GND X")
    block("U1", 370, 70, 70, "21 20 19 18 17 16 15 14 23 24", "3 4 5 6 7 8 9 10 2 22 1 11 12 13")
    resistors(225, 70, 8, 9, 370, "U1", 21)
    block("U2", 370, 291, 70, "21 20 19 18 17 16 15 14 23 24", "3 4 5 6 7 8 9 10 2 22 1 11 12 13")
    resistors(225, 291, 5, 17, 370, "U2", 21)
    block("U3", 370, 511, 70, "21 20 19 18 17 16 15 14 23 24", "3 4 5 6 7 8 9 10 2 22 1 11 12 13")
    resistors(225, 511, 8, 1, 370, "U3", 21)
    block("M1", 770, 70, 80, "4 5 6 7 9 10 11 12 14 15 16 17 19 - - - - - 20 21 22 24 25 26 27 29 - 1 2 31 32 34", \
        "40 36 39 37 30 35 - 3 8 13 18 23 28 33 38")
    trunks()

    block("RN1", 960, 70, 40, "", "1 2 3 4 5 6 7 8 9")
    block("RN3", 1075, 70, 40, "", "1 2 3 4 5 6 7 8 9")
    block("RN2", 600, 560, 40, "", "1 2 3 4 5 6 7 8 9")
    block("U6", 780, 560, 60, "1 2 13 - 3 4 5 9 10 11", "12 - 6 8 - 14 7")
    block("U5", 985, 560, 60, "2 3 4 5", "1")
    block("U4", 985, 655, 60, "3 1", "2")
    block("U7", 1000, 440, 60, "1 3 5 2", "6 4")
    block("RN4", 1075, 250, 40, "", "1 2 3 4 5 6 7 8 9")
    block("U8", 85, 650, 50, "1 2", "5 4 3")
    small_parts(30, 740)

    notes(868, 305, "Red: 5 V. Green: 3.3 V made from the|cartridge's 5 V. Blue: the module's own|3.3 V. × open on purpose.||" \
        "Each address resistor has a Schottky diode|across it, to the driver: of two shorted|lines the low one wins.||" \
        "U1, U2, U3 let go (RELEASE high) unless|POWERED = 1 and SUPPLY_ON = 1.")
    print "</svg>"
    all_drawn()
    exit failed
}
