"""What the page says of itself."""

ANSWERS = "Enter alone goes on, F6 gives a reason, Delete empties the cell to measure again."

REFUSED = "NOT RECORDED: "
OPEN = "Measure again, or give a reason (F6). F3 goes there."
ACROSS = "Across: one coupon at a time."
DOWN = "Down the table: one column for all coupons."
WHO = "Who measures? Type the initials."
REPEATS = "A retest? Type the coupon that it repeats. Esc: it is none."
TAKES_BACK = "If it is, F9 takes the new row back."

TYPE = " Type the reading, then Enter. F1: all keys. F10: leave."
REPLY = " Type the answer, then Enter. Esc drops the question."

HELP = """\
 Type a reading, then Enter or Tab. A balance may type it.
 A unit may follow: 3100.4 mg, 0.113 in.
 Each reading is checked, and on the disk at once.
 Up, Down    another cell      PgUp, PgDn  another row
 Delete      empty the cell    Esc         drop the typed
 F2 Ctrl+N   new coupon        F3 Ctrl+G   go to one
 F4 Ctrl+R   one more reading  F5 Ctrl+T   across, or down
 F6 Ctrl+Y   reason to keep    F7 Ctrl+X   exclude it
 F8 Ctrl+O   who measures      F9 Ctrl+Z   take back
 F10 Ctrl+Q  leave: everything is on the disk
 !  impossible: correct it, or exclude the coupon
 ?  doubtful: measure again, or give the reason (F6)
 r  doubtful, and the reason is given
 …  waits for another reading
"""
