# The whole way through the command line, with names that want to be more than names; sourced by test_pages.sh.
# Leaves pages and rows of the same records in ./pages.

check() {
    name=$1
    shift
    if "$@" >log 2>&1; then echo "ok $name"; else
        echo "not ok $name: $*"
        sed 's/^/# /' log | head -n 20
        failed=1
    fi
}
ended() { # STATUS COMMAND...
    wanted=$1
    shift
    "$@" >told 2>&1
    status=$?
    [ $status = "$wanted" ] || { echo "status $status, not $wanted"; cat told; return 1; }
}

script='<script>alert(1)</script>'
quotes="\"quotes\" & 'more' </th><script>window.ran='plan'</script>"
store=$PWD/records.sqlite

write_plan() {
    {
        printf '[plan]\nname = %s\n' "$quotes"
        printf "[step =1+1 \"'</td><script>alert(2)</script>]\nPF1 = \$81\n"
        printf "[step @SUM '; DROP TABLE run; --]\nPF2 = \$3C\n"
    } >"plan $quotes1.ini"
    printf '[plan]\nname = short\n[step one]\nPF1 = $81\n' >short.ini
}

write_sweep() {
    printf '[bench left]\nkind = virtual\nscreen = none\n[bench right]\nkind = virtual\nscreen = none\n' >benches.ini
    {
        printf '[sweep]\nname = =1+1 %s\nplan = plan %s.ini\nplan = bits\nplan = short.ini\nrepeats = 2\n' "$script" "$quotes1"
        printf '[console %s]\nbench = left\nrevision = "4\047; drop table runs; --\n' "$script"
        printf '[console "><img src=x onerror=alert(1)>]\nbench = right\nmarkings = </style>&amp;\nfault = bit-low=PF1.7\n'
    } >"sweep $quotes1.ini"
}

# A row of a CSV file as a program from outside reads it: the columns of a query, one a line.
csv() { # FILE QUERY
    sqlite3 :memory: -cmd '.mode csv' -cmd ".import \"$1\" rows" -cmd '.mode list' -cmd '.separator "\n"' "$2"
}
holds() { # TEXT, COMMAND...
    text=$1
    shift
    "$@" >found
    grep -qF -- "$text" found || { echo "no $text in:"; head -c 2000 found; return 1; }
}
same_words() { # PAGE PAGE, but for the digits that a store leaves out
    words=0
    for page in "$1" "$2"; do sed 's/ data-[a-z]*=[-0-9.e]*//g' "$page" >"words.$((words = words + 1))"; done
    test -s words.1 && diff words.1 words.2
}
lacks_formulas() { # FILE
    [ "$(csv "$1" 'select count(*) from rows')" -gt 0 ] || return 1
    columns=$(csv "$1" "select name from pragma_table_info('rows')")
    for column in $columns; do
        csv "$1" "select $column from rows where $column regexp '^[=+@\t\r]' or $column regexp '^-' and not $column regexp '^-[0-9.]+(e-?[0-9]+)?$'"
    done >formulas
    [ ! -s formulas ] || { cat formulas; return 1; }
}

finds_formulas() {
    for cell in =1 +1 @SUM "$(printf '\t1')" -a -1+1; do
        printf 'a,b\r\n1,%s\r\n' "$cell" >formula.csv
        ! lacks_formulas formula.csv >/dev/null || { echo "$cell"; return 1; }
    done
    printf 'a,b\r\n-1,-2.5e-3\r\n' >formula.csv
    lacks_formulas formula.csv
}

whole() {
    quotes1="it's \"1\""
    write_plan
    plan="plan $quotes1.ini"
    for fault in none bit-low=PF1.7; do
        set -- --plan "$plan" --console "$script" --station "=1+1 $script" --cartridge "'; DROP TABLE run; --" --store "$store" --out run-$fault
        [ $fault = none ] && check "run of a console named $script" ended 0 "$BUILD_DIR/slotjig" run "$@"
        [ $fault = none ] || check "and with a fault" ended 1 "$BUILD_DIR/slotjig" run "$@" --fault $fault
    done
    check "report of the console" ended 0 "$BUILD_DIR/slotjig" report --store "$store" --console "$script" \
        --html pages/whole-console.html --junit whole.xml --csv whole.csv --jsonl pages/whole-console.jsonl
    check "report of a run" ended 0 "$BUILD_DIR/slotjig" report --store "$store" --run 2 --html pages/whole-run.html --jsonl pages/whole-run.jsonl
    check "run --out has the same page" same_words run-bit-low=PF1.7/report.html pages/whole-run.html
    check "JUnit XML is XML" xmllint --noout whole.xml
    check "and holds the name as text" holds "$script" xmllint --xpath 'string(//testsuite/@name)' whole.xml
    check "CSV holds it" holds "$script" csv whole.csv 'select distinct console from rows'
    write_sweep
    check "sweep of consoles with such names" ended 1 "$BUILD_DIR/slotjig" sweep "sweep $quotes1.ini" --benches benches.ini --store "$store" \
        --out sweep --json pages/whole-sweep.sweep --quiet
    cp sweep/report.html pages/whole-sweep.html
    cp sweep/runs.jsonl pages/whole-sweep.jsonl
    check "its JUnit XML is XML" xmllint --noout sweep/junit.xml
    check "formulas would be found" finds_formulas
    check "its CSV has no formulas" lacks_formulas sweep/steps.csv
    check "report of the sweep" ended 0 "$BUILD_DIR/slotjig" report --store "$store" --sweep "=1+1 $script" --html again.html
    check "has the same page" same_words sweep/report.html again.html
    check "CSV has no formulas" lacks_formulas whole.csv
    check "the store holds it" holds "$script" sqlite3 "$store" 'select * from consoles'
    check "the store is whole" holds ok sqlite3 "$store" 'pragma integrity_check; pragma foreign_key_check'
}
