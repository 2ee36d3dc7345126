"""What the page says of itself."""

ANSWERS = "Enter alone goes on, F6 gives a reason, Delete empties the cell to measure again."

KEYS = " F1 keys  F2 new  F3 go to  F4 repeat  F6 reason  F7 exclude  F9 undo  F10 leave"

HELP = """\
 Type a reading, then Enter (or Tab; a balance that types does it by itself).
 A unit may follow: 3100.4 mg, 0.113 in. Each reading is checked, and is on the
 disk before the next one is asked for. After a doubt, and at the end, nothing
 more is taken, so that no reading is replaced unseen: Enter alone goes on,
 F6 gives a reason, Delete empties the cell to measure again.
 Up  Down         another cell              PgUp  PgDn   another row
 Delete           empty the cell            Esc          drop what was begun
 F2   Ctrl+N      a new specimen            F3  Ctrl+G   go to a specimen
 F4   Ctrl+R      one more reading          F5  Ctrl+T   across, or down
 F6   Ctrl+Y      why it is right  F7  Ctrl+X   why not to count
 F8   Ctrl+O      who measures              F9  Ctrl+Z   take back the last
 F10  Ctrl+Q      leave: there is never anything left to save
 !  cannot be: mend, or exclude   ?  open doubt   r  doubt that has its reason
 …  waits for another reading     >  the cell that is asked for
"""
