"""What somebody who means harm, or is only unlucky, would type; and a line of every command to type it in."""

from __future__ import annotations

NINES = "9" * 5000
HOSTILE_NUMBERS = (
    "nan",
    "inf",
    "-inf",
    "1e400",
    "1e-320",
    "-0",
    "0",
    "-1",
    "1e308",
    "1e15",
    "99999999999",
    "9" * 400,
    NINES,
    "1_0",
    "0x10",
    "٣",
    "1,5",
    "1,500",
    "1e",
    "--",
    "½",
    "1e-15",
    "1e3",
    "5e-324",
    "100%",
    "-5%",
    "1 mil",
    "2L",
    "1e300L",
)
HOSTILE_TEXTS = (
    "",
    " ",
    "\n",
    "\t",
    "a\nb",
    "\x1b[31mred\x1b[0m",
    "\x1b]0;title\x07",
    "\u202eright",
    "\u2066x",
    "\u200b",
    "é",
    "e\u0301",
    "\ud800",
    "=1+1",
    "@SUM(A1)",
    "+1",
    "-1",
    "$\\frac{$",
    "tin $5 #2 from $6 tin",
    "%s",
    "{0}",
    "%(x)s",
    "`name`",
    "'; DROP TABLE job; --",
    ".",
    "fifo",
    "link",
    "loop",
    "x" * 5000,
    "\x9b31m",
    "a\u2028b",
    "\U000e0041",
    "a\rb",
    "x=",
    "=x",
    "a=b=c",
    "a=1,2,3,4",
    "a=nan,0,9,9",
    "1/2",
    "nan/nan",
    "1e400/1",
    "new",
    "last",
    "none",
    "J1",
    "J" + NINES,
    "#1",
    "2026-01-01",
    "0000-00-00",
    "9999-12-31",
    "99999-01-01",
    "white=10",
    "white=nan",
    "white=1e-320",
    "white=1e308",
    "none@there",
    "card1.csv@",
    "@",
    "50,1,1",
    "50,nan,1",
    "1e400,0,0",
    "50,1",
    "50,1,1,1",
    "--json",
    "--",
    "-",
    "[x](y)",
    "<b>",
    "&amp;",
    "\\",
    "{",
    "]",
    "\U0001f600",
    "🚗" * 300,
    "COM1",
    "a" * 300 + ".csv",
)  # fmt: skip
# what is harmless only to a user who may write nowhere else
HOSTILE_PATHS = ("../../etc/passwd", "/etc/passwd", "/dev/zero", "/dev/null", "/dev/full", "/proc/self/mem", "..", "/")
LINES = """\
compare card1.csv card2.csv
compare 50,1,1 51,2,2 --light D65 --tolerance 1
compare meters.csv card1.csv
bank fit bank
bank plan bank
bank show bank --plot b.png
evidence weigh evidence.csv --save t.csv
evidence weigh survivors.csv --ageing --plot e.png
evidence kinds
mix target.csv --bank bank --grams 500
mix --lab 50,1,1 --bank bank --grams 2L --max-tints 2 --recipes 2 --plot m.png
predict batch1.csv --bank bank
predict white=400 blue=20 --bank bank --target target.csv
judge card1.csv
correct target.csv --bank bank --batch batch1.csv --sprayed card1.csv
correct 50,1,1 --bank bank --batch batch1.csv --difference 1,0,0
plan page plan/plan.toml --out p.html
plan air plan/single-stage.toml --temperature 22C --humidity 55%
plan law --rules district plan/clear.toml
plan quantity plan/single-stage.toml --area 3m2 --build 40um
plan sheen plan/ladder.csv --target 30
plan quantity --area 36ft2 --build 1mil --coats 2 --solids 0.42 --ratio 4:1:1
plan hiding batch1.csv --bank bank
plan angles plan/metallic.csv@standard plan/metallic.csv@trial
photo read photo.jpg --save r.csv --overlay o.png
photo read photo.jpg --region tin=100,100,50,50
photo read raw.dng --region tin=10,10,40,40
photo card --out c.pdf
photo card --panels 8 --size A4 --out p.pdf
photo card --register cardprint.csv
defect log fisheye --panel roof --place left --count 3 --size-mm 2 --at 10/20
defect kinds
defect trace
defect advise fisheye --layer primer=40,42,41 --layer colour=60,61,58 --depth-um 30
defect calibrate removal.csv
defect suspect gun=2 --why no
job new roof --vehicle six
job show
job list
job note hello
job check
job coat --panel roof --exposure gun=2 --like last
job film --panel roof --layer primer --build 40,42 --place 1/2
job pour batch1.csv
job pour white=400 blue=20 --bank bank
job spray card1.csv --coats 2
job tin J1 "blue 20/80" --difference 1.9,-1.5,0.2 --bank bank
job strike 1 --why x
job use J1
job outcome good --decision 1
next
find 50,1,1
dossier J1 --out d
label J1 --out l.pdf
backup b.zip
restore b.zip
ledger move bank moved
ledger move d moved
export J1 --out e.zip
import e.zip
demo --out d
bank photo bank photo.jpg --region blue=100,100,50,50
bank photo bank photo.jpg --panel 1=blue
defect map roof --size 600x400 --at 10/20 --depth-um 30
defect checks
defect clear gun=2 --why yes
defect suspects --history
job outcome held --came right
spec J1 --out s.pdf
job show --history
evidence weigh new-evidence.csv
plan law plan/clear.toml plan/single-stage.toml --kind topcoat --voc 420g/l
job pour white=10 blue=4 --to last
job pour white=10 --set-aside half --aside-for boot
mix target.csv --bank bank --grams 100 --like last --without blue
judge card1.csv --seen dL=1,da=0,db=0 --region tin=100,100,50,50
label --read photo.jpg
find card1.csv
""".splitlines()
