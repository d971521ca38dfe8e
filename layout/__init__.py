"""From what stands on the walls to what will be built, what to cut, and what to buy.

In: a survey and a scheme. Out: members at exact places, verdicts on every box, what could be done, pieces and boards.

    scheme                      what is wanted: sizes, rules, the order of preferences, what a person decided
    exact  bevels               measured lengths made exact; how a corner is turned
    ends  corners               how a run stops; which wall goes in first, and the corner's angle
    openings  heights  runs     what interrupts the wainscot; its level lines; where it runs
    spacing  rules              every way to divide a run; where a stile must stand and where none may
    frames                      every member at its place
    meeting  chances  verdicts  how a plate meets the frame; how sure that is; the same in words
    stakes  chain  nudge        what a thing costs a plan; stiles as variables; their best shifts
    options  search  best       what each spacing comes to; the best of all; why it is, and the runner-up
    stretches  floorline        what is left of a line; the receptacle rule along it
    setback  moves  new_places  box depth; where a box could go, and goes that is pinned to move; all of them together
    remedies  checks  assumed   all that could be done; what else is found; what is taken for granted
    plan                        the whole room: start at `plan_walls`
    next_steps                  what to measure next

    joints                      how level members end, and where long ones are joined
    pieces  cutlist  setout     a piece; all of them: start at `pieces_of`; where they land, and in which order
    stock                       what the yard sells; the take-off
    patterns  cutting  boards   how a blank can be cut; the fewest, proven; boards to buy: start at `buy`
"""
