"""From what stands on the walls to what will be built.

In: a survey and a scheme. Out: members at exact places, verdicts on every box, and what could be done.

    scheme                      what is wanted: sizes, rules, the order of preferences, what a person decided
    exact  ends  corners        measured lengths made exact; how a run stops; which wall goes in first
    openings  heights  runs     what interrupts the wainscot; its level lines; where it runs
    spacing  rules              every way to divide a run; where a stile must stand and where none may
    frames  joints              every member at its place; where long ones are joined
    meeting  chances  verdicts  how a plate meets the frame; how sure that is; the same in words
    stakes  chain  nudge        what a thing costs a plan; stiles as variables; their best shifts
    options  search  best       what each spacing comes to; the best of all; why it is, and the runner-up
    floorline  setback  moves   the receptacle rule; box depth; where a box could go
    remedies  checks  assumed   all that could be done; what else is found; what is taken for granted
    plan                        the whole room: start at `plan_walls`
"""
