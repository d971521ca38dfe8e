/** The plan of one wall, which comes at once, laid over the last plan of the house, whose other walls then wait. */

/** Said where something waits. */
export const REST = "The rest of the house is being reckoned anew.";

/**
 * Walls that were planned at an earlier revision of the job are marked `waiting`, and so is what is in the way there.
 * @param {any} old the last plan
 * @param {any} fresh the plan of one wall, and the names of the `rest`
 * @param {number} revision that the fresh one is of
 */
export function laidOver(old, fresh, revision) {
  const [mine] = fresh.walls;
  const known = new Map(old.walls.map((one) => [one.name, one]));
  const walls = [mine.name, ...fresh.rest].map((name) => aged(known.get(name) ?? { name, runs: [], photos: [] }, revision));
  const order = [...known.keys(), ...fresh.rest, mine.name];
  walls[0] = { ...mine, of: revision };
  walls.sort((a, b) => order.indexOf(a.name) - order.indexOf(b.name));
  const waiting = new Set(walls.filter((one) => one.waiting).map((one) => one.name));
  const there = (old.conflicts ?? []).filter(({ wall }) => fresh.rest.includes(wall));
  const before = (old.conflicts ?? []).findIndex(({ wall }) => wall === mine.name);
  there.splice(before < 0 ? there.length : before, 0, ...fresh.conflicts);
  return { ...old, of: revision, walls, conflicts: there.map((one) => ({ ...one, waiting: waiting.has(one.wall) })) };
}

const aged = (wall, revision) => ({ ...wall, waiting: wall.of !== revision });
