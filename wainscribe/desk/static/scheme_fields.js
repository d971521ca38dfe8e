/** The wishes of the scheme in the trade's words, in groups; what is not listed here is shown at the end by its key. */

/** @typedef {{key: string, say: string, how?: "length"|"yes"|"choice"|"number"|"order"|"places", choices?: string[], zero?: string}} Field `zero`: what a length of nothing means */

/** @type {{title: string, open?: boolean, fields: Field[]}[]} */
export const GROUPS = [
  {
    title: "Height",
    open: true,
    fields: [
      { key: "top", say: "Top of all" },
      { key: "cap", say: "Cap, thick", zero: "none" },
      { key: "cap_projection", say: "Cap, past the stiles" },
      { key: "ledge", say: "Ledge on the cap, thick", zero: "none" },
      { key: "ledge_projection", say: "Ledge, past the stiles" },
      { key: "base", say: "Base, high", zero: "none" },
      { key: "base_thickness", say: "Base, thick" },
    ],
  },
  {
    title: "Rails and stiles",
    open: true,
    fields: [
      { key: "top_rail", say: "Top rail" },
      { key: "bottom_rail", say: "Bottom rail" },
      { key: "middle_rail", say: "Middle rail" },
      { key: "middle_rail_at", say: "Middle rail’s top edge at", zero: "none" },
      { key: "stile", say: "Stile" },
      { key: "end_stile", say: "End stile", zero: "as others" },
      { key: "thickness", say: "Thickness" },
    ],
  },
  {
    title: "Panels",
    open: true,
    fields: [
      { key: "panel_width", say: "Width wanted" },
      { key: "proportion", say: "Height over width", how: "number" },
      { key: "panel", say: "Panel", how: "choice", choices: ["painted wall", "sheet"] },
      { key: "panel_thickness", say: "Sheet, thick" },
      { key: "moulding", say: "Moulding, wide", zero: "none" },
      { key: "moulding_thickness", say: "Moulding, thick" },
      { key: "reveal", say: "Reveal" },
    ],
  },
  {
    title: "Spacing",
    fields: [
      { key: "equal", say: "Panels of a run alike", how: "yes" },
      { key: "mirrored", say: "Both ends alike", how: "yes" },
      { key: "nudge", say: "A stile may shift by", zero: "nothing" },
      { key: "matched", say: "Alike from wall to wall", how: "yes" },
      { key: "match_within", say: "Alike within" },
      { key: "width_within", say: "Near enough to the width", zero: "exactly it" },
      { key: "goes_first", say: "Walls that go in first", how: "places" },
    ],
  },
  {
    title: "Clear field and fillers",
    fields: [
      { key: "plate_clear", say: "Round a plate" },
      { key: "register_clear", say: "Round a register" },
      { key: "heater_clear", say: "Round a baseboard heater" },
      { key: "filler", say: "Filler, cut narrow by" },
      { key: "filler_width", say: "Filler, shown", zero: "none" },
      { key: "stock_length", say: "Longest board", zero: "any" },
    ],
  },
];

/** Wishes of a form of their own: pins are chosen beside the conflict, panels by the run. */
export const APART = new Set(["panels", "pins", "stile_at", "no_stile", "preferences", "unit"]);

/** What makes one plan better than another, in plain words. */
export const PREFERENCES = {
  width: "panels near the width wanted",
  conflicts: "fewest things in the way",
  moves: "fewest boxes moved",
  match: "panels alike from wall to wall",
  doubts: "fewest things too close to tell",
  nudge: "stiles shifted least",
  panels: "fewest panels",
};
