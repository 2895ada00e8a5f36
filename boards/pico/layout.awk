# Where things stand on the drawing of the Pico board; with ../draw.awk.

END {
    row = 13.5
    stub = 62
    small_rows = 13
    bundled["J1"] = bundled["U1"] = bundled["U2"] = bundled["U3"] = bundled["M1"] = 1
    trunk["A"] = 190; label["A"] = "A0 - A12"; mark["A"] = 275
    trunk["D"] = 150; label["D"] = "D0 - D7"; mark["D"] = 455
    trunk["ADDRESS"] = 590; label["ADDRESS"] = "ADDRESS0 - ADDRESS12"; mark["ADDRESS"] = 216
    trunk["DATA"] = 540; label["DATA"] = "DATA0 - DATA7"; mark["DATA"] = 400

    print "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"297mm\" height=\"210mm\" viewBox=\"0 0 1188 840\" font-family=\"DejaVu Sans, sans-serif\">"
    print "<!-- Made by draw.awk from netlist.txt: change those, then `make drawing`. -->"
    print "<rect width=\"1188\" height=\"840\" fill=\"#fff\"/>"
    text(20, 28, 15, "start", "#000", "Pico board: wiring", " font-weight=\"bold\"")
    text(190, 28, 9, "start", "#b00000", "Never built: no physical board has been seen. Slot contacts have names, not numbers: take the numbers from the console's service manual.")

    block("J1", 20, 70, 50, "", "A0 A1 A2 A3 A4 A5 A6 A7 A8 A9 A10 A11 A12 - D0 D1 D2 D3 D4 D5 D6 D7 - V5 GND X")
    block("U1", 370, 70, 70, "2 3 4 5 6 7 8 9 1 19", "18 17 16 15 14 13 12 11 20 10")
    block("U2", 370, 245, 70, "2 3 4 5 6 7 8 9 1 19", "18 17 16 15 14 13 12 11 20 10")
    block("U3", 370, 430, 70, "21 20 19 18 17 16 15 14 23 24", "3 4 5 6 7 8 9 10 2 22 1 11 12 13")
    resistors(225, 430, 8, 1, 370, "U3", 21)
    block("M1", 770, 70, 80, "4 5 6 7 9 10 11 12 14 15 16 17 19 - - - - - 20 21 22 24 25 26 27 29 - 31 32 34", \
        "1 2 - 36 39 40 37 30 35 - 3 8 13 18 23 28 33 38")
    trunks()

    block("U6", 600, 660, 60, "1 2 13 - 3 4 5 9 10 11", "12 - 6 8 - 14 7")
    block("RN1", 40, 660, 40, "", "1 2 3 4 5 6 7 8 9")
    block("RN2", 175, 660, 40, "", "1 2 3 4 5 6 7 8 9")
    block("U5", 370, 660, 60, "2 3 4 5", "1")
    block("U4", 370, 765, 60, "3 1", "2")
    block("J2", 1095, 500, 50, "1 2 3", "")
    chain("F1.1-2 D1.A-K", 640, 540, "Power: console to module (USB cannot come back through D1)")
    chain("R18.1-2", 970, 590, "Serial line")
    chain("R19.1-2", 970, 615, "")
    small_parts(760, 665)

    notes(985, 350, "Red: 5 V. Green: 3.3 V made from the|console's 5 V (slot side). Blue: the module's|own 3.3 V. × open on purpose.||" \
        "U1, U2, U6: inputs stand 5 V.|U3: both ports stand 5 V; either supply|at 0 V releases both.||" \
        "Release (U3 pin 22) is low only when|A12 = 1, POWERED = 1 and ENABLE = 1.")
    print "</svg>"
    all_drawn()
    exit failed
}
