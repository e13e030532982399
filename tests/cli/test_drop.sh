#!/bin/sh
# The voltage drop that `bench` takes from the drawing.
. "$(dirname "$0")/lib.sh"

if "$ISTHMUS" bench --current 1A --width 1mm --copper 1oz --from X >/dev/null 2>&1; then
    complain "--from without a package must be refused"
fi

# By hand: 42 mm x 2 mm of 35 um between two pads, and a tap half way. 21 squares of
# 0.017580 ohm mm2/m / 0.035 mm (copper at 25 C) are 10.55 mohm; 2 A drop 21.1 mV, half way 10.5.
cat >"$scratch/strip-top.gbr" <<'EOF'
%TF.FileFunction,Copper,L1,Top*%
%TF.FilePolarity,Positive*%
%FSLAX46Y46*%
%MOMM*%
%TA.AperFunction,SMDPad,CuDef*%
%ADD10R,2.0X2.0*%
%TD*%
%TO.N,HEAT*%
%TO.P,J1,1*%
D10*
X0Y0D03*
%TO.P,J2,1*%
X44000000Y0D03*
%TO.P,R1,1*%
X22000000Y3000000D03*
%TD.P*%
G36*
X0Y1000000D02*
G01*
X44000000D01*
Y-1000000D01*
X0D01*
Y1000000D01*
G37*
G36*
X21900000Y500000D02*
X22100000D01*
Y3000000D01*
X21900000D01*
Y500000D01*
G37*
M02*
EOF
cat >"$scratch/strip-profile.gbr" <<'EOF'
%TF.FileFunction,Profile,NP*%
%FSLAX46Y46*%
%MOMM*%
%ADD10C,0.1*%
D10*
X-5000000Y-5000000D02*
X49000000D01*
Y9000000D01*
X-5000000D01*
Y-5000000D01*
M02*
EOF
table() { printf 'net,pin,current_a\n%b' "$1" >"$scratch/strip.csv"; }
table 'HEAT,J1.1,+2\nHEAT,J2.1,-2\nHEAT,R1.1,0\n'
set -- "$scratch/strip-top.gbr" "$scratch/strip-profile.gbr" --currents "$scratch/strip.csv" \
    --net HEAT
run bench "$@" --at 33,0.9,top --at 866.1417mil,0,top
if holds "$err" "built without the sheet solve"; then
    echo "skipped: built with SOLVE=0"
    exit 0
fi
expect_code 0; expect_clean_err
expect_out "by the drawing"
expect_out "enters this net at J1.1 and leaves it at J2.1"
expect_out "10.5 mohm cold"
printf '%s\n' "$out" | awk '
    /^  J2.1 / { j2 = $7 } /^  R1.1 / { r1 = $5 } /^  place 1/ { p1 = $7 } /^  place 2/ { p2 = $7 }
    END { exit !(j2 == 21.1 && r1 == 10.5 && p1 == 16.1 && p2 == 10.5) }' ||
    complain "drops are not 21.1 mV at J2.1, 10.5 at R1.1 and half way, 16.1 at 33 mm (32 of 42 mm)"
# the drop goes into the load (5 V, 2 A, 10.55 mohm cold and some per cent more warm), and leads
# into the supply
expect_out "Load at J2.1: 2.49 ohm"
run bench "$@" --leads 30mohm
expect_code 0; expect_out "set 5.060 V"
# warmer surroundings: 85 C has 1.2313 times the resistance of 25 C (rho in the reference sheet)
run bench "$@" --ambient 85C
expect_code 0; expect_out "13 mohm cold"

run bench "$@" --from R1.1 --to J1.1
expect_code 0; expect_out "drop from R1.1"
run bench "$@" --from J3.1 --to J1.1
expect_code 2; expect_err 'no terminal "J3.1"'; expect_err "did you mean J1.1?"
run bench "$@" --from J1.1 --to J1.1
expect_code 2; expect_err "named twice"
run bench "$@" --from ,J1.1
expect_code 2; expect_err "a name is missing"
run bench "$@" --at 22,5,top
expect_code 2; expect_err "(22.000, 5.000) mm on top is not on copper"
run bench "$@" --at 22,5
expect_code 2; expect_err "not X,Y,LAYER"
run bench "$@" --at 22,0,inner:1
expect_code 2; expect_err "no such copper layer"
run bench "$@" --load 2ohm
expect_code 0; expect_out "Load at J2.1: 2 ohm"
run bench --current 2A --width 2mm --copper 1oz --from J1.1
expect_code 2; expect_err "need a package"

# a terminal that is a place has a comma in its name
printf 'net,current_a,x_mm,y_mm,layer\nHEAT,2,,,\nHEAT,+2,0,0,top\nHEAT,-2,44,0,top\n' >"$scratch/strip.csv"
run bench "$@" --from J1.1 --to J2.1
expect_code 0
sed 's/%TO.*%$//' "$scratch/strip-top.gbr" >"$scratch/bare-top.gbr"
run bench "$scratch/bare-top.gbr" "$scratch/strip-profile.gbr" --currents "$scratch/strip.csv" \
    --net HEAT --from "(0.00, 0.00) top" --to "(44.00, 0.00) top"
expect_code 0; expect_out "Load at (44.00, 0.00) top"; expect_out "10.5 mohm cold"

# a table that does not say which way round: no drop, and why; two names help
table 'HEAT,,2\n'
run bench "$@" --stop 200C
expect_code 0; expect_out "No voltage drop from the drawing"; expect_out "--from J1.1"
# (the tap of 0.2 mm, 94.5 K at 2 A, carries nothing in this test)
run bench "$@" --from J1.1 --to J2.1
expect_code 0; expect_out "10.5 mohm cold"
# two draws: a load each in the shares of the table, or one by name
table 'HEAT,J1.1,+2\nHEAT,J2.1,-1.5\nHEAT,R1.1,-0.5\n'
run bench "$@"
expect_code 0; expect_out "Load at J2.1"; expect_out "Load at R1.1"; expect_out "name its terminal"
run bench "$@" --load 2ohm
expect_code 2; expect_err "several terminals"; expect_err "--to F1.1"
run bench "$@" --load 2ohm --to J2.1
expect_code 0; expect_out "Load at J2.1: 2 ohm"

# a cold reading against the drawing, by hand: 22.2 mV at 2 A are 11.1 mohm for 10.55, 0.950 times the
# copper; within U: 2 sqrt((0.5 %)^2 + (0.5 K x 0.385 %/K)^2 + ...) / sqrt 3 = 0.62 %
table 'HEAT,J1.1,+2\nHEAT,J2.1,-2\nHEAT,R1.1,0\n'
printf 'place,current_a,ambient_c,method,drop_v,cold_drop_v,cold_current_a,cold_c\n%s\n' \
    '1,2,25,resistance,0.0225,0.0222,2,25' >"$scratch/cold.csv"
run compare "$scratch/cold.csv" "$@"
expect_out "taps at J1.1 and J2.1"; expect_out "11.1 mohm measured at 25 C, 10.5 mohm"
expect_out "0.95 times the copper that was stated (0.944 to 0.956 within U)"
expect_out "the mean between the taps"
run compare "$scratch/cold.csv" "$@" --from J1.1 --to R1.1
expect_out "taps at J1.1 and R1.1"
run compare "$scratch/cold.csv" "$@" --from J1.1 --to R9.1
expect_code 2; expect_err 'no terminal "R9.1"'
run compare "$scratch/cold.csv" --width 1mm --copper 1oz --from J1.1
expect_code 2; expect_err "need a package"
table 'HEAT,J1.1,+2\nHEAT,J2.1,-1\nHEAT,R1.1,-1\n'
run compare "$scratch/cold.csv" "$@"
expect_out "several terminals; name the two taps"
finish
