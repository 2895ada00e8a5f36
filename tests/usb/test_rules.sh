#!/bin/sh
# The udev rule: known keys with operators that they take (udev(7)), the identity and the texts of slotjig/usb.h, before
# the rules that carry out "uaccess" (73-seat-late.rules, systemd). Where this system's udevadm has `verify`
# (systemd 254), that judges too.
set -u
source=${SOURCE_DIR:-.}
rules=$source/boards/udev/60-slotjig.rules
failed=0

say() {
    if [ "$1" = 0 ]; then echo "ok $2"; else
        echo "not ok $2"
        failed=1
    fi
}

# check FILE: a line for each thing that is wrong.
check() {
    awk -v header="$source/include/slotjig/usb.h" '
    function number(name,    line, found) {
        while ((getline line < header) > 0)
            if (match(line, name " = 0x[0-9A-Fa-f]+"))
                found = tolower(substr(line, RSTART + length(name) + 5, RLENGTH - length(name) - 5))
        close(header)
        return found
    }
    function text(name,    line, found) {
        while ((getline line < header) > 0)
            if (index(line, "#define " name " ")) {
                split(line, part, "\"")
                found = part[2]
            }
        close(header)
        return found
    }
    BEGIN {
        # ==, != for what is matched; =, += for what is set.
        split("ACTION SUBSYSTEM ENV ATTR ATTRS KERNEL DEVPATH", list, " ")
        for (i in list) matched[list[i]] = 1
        split("ENV GOTO LABEL TAG MODE GROUP", list, " ")
        for (i in list) set[list[i]] = 1
        split("TAG", list, " ")
        for (i in list) added[list[i]] = 1
        vendor = number("USB_VENDOR"); product = number("USB_PRODUCT")
        maker = text("USB_MANUFACTURER"); name = text("USB_PRODUCT_TEXT") "|" text("USB_READER_TEXT")
        if (vendor == "" || product == "" || maker == "" || name ~ /^\||\|$/) print "usb.h is not understood"
    }
    /^[ \t]*(#|$)/ {next}
    {
        delete has
        rest = $0
        while (rest != "") {
            if (!match(rest, /^[A-Z]+(\{[A-Za-z_]+\})?(==|!=|\+=|=)"[^"]*"(, |$)/)) {
                print FNR ": not a list of KEY==\"value\": " rest
                next
            }
            pair = substr(rest, 1, RLENGTH)
            rest = substr(rest, RLENGTH + 1)
            match(pair, /(==|!=|\+=|=)"/)
            key = substr(pair, 1, RSTART - 1)
            operator = substr(pair, RSTART, RLENGTH - 1)
            value = substr(pair, RSTART + RLENGTH)
            sub(/"(, )?$/, "", value)
            kind = key
            sub(/\{.*/, "", kind)
            if (operator ~ /^[=!]=$/ ? !(kind in matched) : operator == "=" ? !(kind in set) : !(kind in added))
                print FNR ": " key " does not take " operator
            if (operator == "==") has[key] = value
            if (key == "LABEL") labels[value] = 1
            if (key == "GOTO") gotos[value] = FNR
            if (key == "TAG" && value == "uaccess") access[FNR] = 1
        }
        if (FNR in access) {
            where = has["SUBSYSTEM"] == "tty" ? "ATTRS" : "ATTR"
            seen[has["SUBSYSTEM"] " " has[where "{idVendor}"] ":" has[where "{idProduct}"]]++
            if (has[where "{idVendor}"] == vendor &&
                (has[where "{product}"] != name || has[where "{manufacturer}"] != maker ||
                 has[where "{idProduct}"] != product))
                print FNR ": opens devices that are not ours"
            if (has[where "{idVendor}"] == "") print FNR ": opens anything"
        }
    }
    END {
        for (label in gotos) if (!(label in labels)) print gotos[label] ": no LABEL " label
        if (!seen["usb " vendor ":" product]) print "the board is not opened"
        if (!seen["tty " vendor ":" product]) print "the serial port is not opened"
        if (!seen["usb 2e8a:0003"]) print "the boot loader is not opened"
    }' "$1"
}

wrong=$(check "$rules")
[ -z "$wrong" ] || echo "$wrong"
[ -z "$wrong" ]
say $? "the rule names our boards, and only keys that udev knows"

case $(basename "$rules") in
[0-6][0-9]-*.rules | 7[0-2]-*.rules) say 0 "the rule comes before 73-seat-late.rules" ;;
*) say 1 "the rule comes before 73-seat-late.rules" ;;
esac

# The check itself: each of these must be noticed.
copy=${TMPDIR:-/tmp}/rules.$$
noticed() {
    sed "$1" "$rules" >"$copy"
    [ -z "$wrong" ] && ! cmp -s "$copy" "$rules" && [ -n "$(check "$copy")" ]
    say $? "noticed: $2"
}
noticed 's/ATTR{product}=="slotjig board|slotjig reader", //' "without the product's text"
noticed 's/"1209"/"1208"/' "another vendor"
noticed 's/TAG+="uaccess"/TAGS+="uaccess"/' "a key that cannot be set"
noticed 's/ATTRS{idVendor}==/ATTRS{idVendor}=/' "setting what should match"
noticed 's/ATTR{manufacturer}=="slotjig", /ATTR{manufacturer}=="slotjig" /' "a missing comma"
noticed 's/^LABEL.*//' "a jump to nowhere"
rm -f "$copy"

if udevadm verify --help >/dev/null 2>&1; then
    udevadm verify "$rules"
    say $? "udevadm verify"
else
    echo "skip udevadm verify: this system's udevadm does not have it (systemd 254 and later do)"
fi
exit $failed
