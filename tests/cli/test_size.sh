#!/bin/sh
# isthmus size as a user types it. Numbers: IPC-2221 section 6.2 as recomputed independently for
# tests/reference; the 30 mil are common practice, no source.
. "$(dirname "$0")/lib.sh"

# any one from the others
run size --current 2A
expect_code 0; expect_clean_err
expect_out "0.781 mm (30.8 mil)"
expect_out "rise (assumed)"
expect_out "copper (assumed)"
run size --width 1mm --copper 35um --rise 10K
expect_code 0; expect_out "2.39 A"; expect_out "1.2 A"
run size --width 1mm --copper 35um --current 3.2444A
expect_code 0; expect_out "20 K"
run size --current 10A --rise 20K --width 2.3619mm --layer external
expect_code 0; expect_out "copper (found)    70 um (2 oz)"
run size --current 3A --copper 24.9um --rise 10 --layer internal
expect_code 0; expect_out "5 mm (197 mil)"; reject_out "outer layer "

# judged when all is given
run size --current 2A --width 0.5mm --rise 10K --copper 1oz --layer external
expect_code 1; expect_out "TOO NARROW"; expect_out "0.781 mm"
run size --current 2A --width 0.8mm --rise 10K --copper 1oz --layer external
expect_code 0; expect_out "Wide enough"
run size --current 2A --width 0.8mm --rise 10K --copper 1oz
expect_code 2; expect_err "--layer external or --layer internal"

# the same question in other units is the same answer
run size --width 20mil --copper 1oz --rise 20K --layer external --length 100mil
inches=$out
run size --width 0.508mm --copper 35um --rise 20C --layer external --length 2540um
[ "$inches" = "$out" ] || complain "mm and um give another answer than mil and oz"
run size --current 800mA
milli=$out
run size --current 0.8
[ "$milli" = "$out" ] || complain "0.8 and 800mA differ"
run size --width 20mil --rise 10 --units mil
expect_out "20 mil (0.508 mm)"
run size --current 2 --ambient 298.15K
kelvin=$out
run size --current 2 --ambient 25C
[ "$kelvin" = "$out" ] || complain "298.15K and 25C differ"

# every fit, and which one is cautious
run size --width 1mm --copper 35um --rise 10
expect_out "IPC-D-275 refit, external          2.55 A"
expect_out "IPC-D-275 refit, internal          0.991 A"
expect_out "Design News 1968"
run size --width 27mil --copper 2.9mil --current 5A --layer external
expect_out "29.2 K"
expect_out "The cautious one of the outer fits is Brooks and Adam 2015, external: 41.9 K"

# outside the range it is said
run size --current 40A --layer external
expect_code 0; expect_out "extrapolated: the current is above 35 A"

# tables
run size --current 5A --copper 0.5oz,1oz,2oz --rise 10K,20K,30K --layer external
expect_code 0; expect_out "17.5 um            5.53        3.63        2.84"
expect_out "35 um              2.77        1.82        1.42"
run size --rise 10,20 --width 1mm --copper 35um --layer internal
expect_code 0; expect_out "1.20"; expect_out "1.62"
run size --current 1,2 --rise 10,20 --copper 1oz,2oz
expect_code 2; expect_err "at most two lists"
run size --current 1,2 --length 50mm
expect_code 2; expect_err "single values"

# resistance, drop, power: 50 x 1 mm x 35 um at 65 C is 28.986 mohm
run size --width 1mm --copper 35um --rise 40K --length 50mm --layer external --supply 24V
expect_code 0; expect_out "29 mohm"; expect_out "drop of supply"

# short times: 1 mm x 35 um from 25 C: REFERENCES give 4.62 A to 130 C in 1 s; here from 35 C
run size --width 1mm --copper 35um --rise 10K --layer external --overload 1s --ambient 15C
expect_code 0; expect_out "4.62 A heat it"; expect_out "10.1 A melt it"
run size --current 2 --layer external --overload 20A:0.5s
expect_code 1; expect_out "MELTS"
run size --current 2 --layer external --overload 20s
expect_code 0; expect_out "OUT OF RANGE"

# pulses: sqrt((8^2 + 9 * 0.5^2) / 10) = 2.574 A
run size --pulses 8A:1s,0.5A:9s --layer external
expect_out "2.57 A r.m.s."
run size --pulses 8A:1ms,0A:9ms --layer external
expect_code 0; expect_out "2.53 A r.m.s."
run size --pulses 8A:100s,0A:100s
expect_out "THIS PERIOD IS NOT"
run size --pulses 8A
expect_code 2; expect_err "for example 8A:1s"
run size --pulses 8A:1s --current 2
expect_code 2; expect_err "leave one of them out"
run size --pulses 0:1s
expect_code 2; expect_err "carries no current"

# holes: 0.3 mm, 20 um: 0.7262 A by the inner constants
run size --hole 0.3mm
expect_code 0; expect_out "0.726"
run size --current 5A --hole 0.3mm,0.5mm
expect_code 0; expect_out "holes, section"
# by hand: 5 A inside at 10 K need 0.2518 mm2: 14.3 walls of 0.017593 mm2; outside 0.09679: 5.5
expect_out "0.726      15       6               6"
run size --width 1mm --copper 35um --hole 0.3mm --layer external
expect_code 0; expect_out "0.726      6        2               2"
run size --hole 0.26mm --finished
expect_code 0; expect_out "0.726"
run size --hole 0.03mm
expect_code 2; expect_err "filled up"

# the absolute limit
run size --current 2 --rise 90K --layer external
expect_code 1; expect_out "115 C, TOO HOT"
run size --current 2 --ambient 120C
expect_code 2; expect_err "leave no room"

# errors lead to the right call
run size
expect_code 2; expect_err "isthmus size --current 2A"
run size --rise 10
expect_code 2; expect_err "give a current or a width"
run size --copper 1 --current 2
expect_code 2; expect_err "has no unit"; expect_err "35um, 1oz"
run size --current 2,5A,
expect_code 2; expect_err "is not a number"
run size --current two
expect_code 2; expect_err "2.5A, 800mA"
run size --current -2
expect_code 2; expect_err "below what is possible"
run size --ambient -1K --current 2
expect_code 2; expect_err "below what is possible"
run size --rise -5 --current 2
expect_code 2
run size --curent 2
expect_code 2; expect_err "did you mean --current?"
run size --current
expect_code 2; expect_err "needs a value"
run size 2A
expect_code 2; expect_err "every value belongs to an option"
run size --layer outer --current 2
expect_code 2; expect_err "external or internal"
run size -z
expect_code 2; expect_err "unknown option -z"
run size --help
expect_code 0; expect_clean_err; expect_out "Usage: isthmus size"

# colour: never into a file
expect_plain=$(printf '\033')
run size --current 2A
reject_out "$expect_plain"

# a full disk is not a success
if [ -w /dev/full ]; then
    last="size --current 2A, into a full disk"
    "$ISTHMUS" size --current 2A >/dev/full 2>"$scratch/err"
    code=$?
    err=$(cat "$scratch/err")
    expect_code 2; expect_err "failed"
fi
run size --width 1mm --overload 20A
expect_code 2; expect_err "20A:0.5s"
finish
