"""From what stands on the walls to what will be built.

In: a survey and a scheme. Out: members at exact places, verdicts on every box, and what could be done.

    scheme                      what is wanted
    exact  ends  openings       measured lengths made exact; how a run stops; what interrupts it
    runs                        where wainscot runs
    spacing  frames             equal panels; every member at its place
    meeting  verdicts           how a plate meets the frame; how sure that is, in words
    floorline  moves  remedies  the receptacle rule; where a box could go; all that could be done
    plan                        the whole room: start at `plan_walls`
"""
