/** Which thing a change is about: two changes of one thing must reach the laptop one after the other. */

/** @param {any} change @returns {string[]} */
export function thingsOf(change) {
  const on = `${change.wall ?? ""}`;
  const keyed = (values) => Object.keys(values ?? {}).map((key) => `${change.do}/${on}/${key}`);
  switch (change.do) {
    case "mark":
      return [`mark/${on}/${change.mark.name ?? ""}`];
    case "remove-mark":
      return [`mark/${on}/${change.name}`];
    case "tape":
    case "remove-tape":
      return [`tape/${on}/${[change.start, change.end].sort().join("/")}`];
    case "new-wall":
    case "wall":
    case "remove-wall":
      return [`wall/${change.name}`];
    case "photo":
    case "remove-photo":
      return [`photo/${on}/${change.photo}`];
    case "about":
    case "conditions":
      return keyed(change.facts);
    case "scheme":
      return keyed(change.wishes);
    case "undo":
    case "redo":
      return ["everything"];
    default:
      return [`${change.do}/${on}`];
  }
}

/** A photo that is not on the laptop yet goes by this name. */
export const localPhoto = (id) => `local:${id}`;

/** The local photos that a change speaks of. @returns {string[]} their ids */
export function photosAwaited(change) {
  const named = [change.photo, ...(change.mark?.sights ?? []).map((sight) => sight.photo)];
  return named.filter((name) => name?.startsWith?.("local:")).map((name) => name.slice("local:".length));
}

/** The change with a photo's name as the laptop gave it. */
export function withPhotoNamed(change, id, name) {
  const local = localPhoto(id);
  const named = (photo) => (photo === local ? name : photo);
  const copy = structuredClone(change);
  if (copy.photo) copy.photo = named(copy.photo);
  for (const sight of copy.mark?.sights ?? []) sight.photo = named(sight.photo);
  return copy;
}

/** What a change does, in a few words for the person. @param {any} change @returns {string} */
export function saying(change) {
  const where = change.wall ? ` on ${change.wall}` : "";
  switch (change.do) {
    case "mark":
      return `${change.mark.name}${where}`;
    case "remove-mark":
      return `take ${change.name} away${where}`;
    case "tape":
      return `${change.start} to ${change.end}: ${change.length}${where}`;
    case "remove-tape":
      return `take the reading ${change.start} to ${change.end} away${where}`;
    case "new-wall":
      return `new wall: ${change.name}`;
    case "wall":
      return `${change.name}: ${wallFields(change)}`;
    case "remove-wall":
      return `take ${change.name} away`;
    case "photo":
      return `photo ${change.photo}${where}`;
    case "remove-photo":
      return `take photo ${change.photo} away${where}`;
    case "about":
      return listed(change.facts);
    case "conditions":
      return listed(change.facts, "not known") + where;
    case "scheme":
      return listed(change.wishes);
    case "print-run":
      return "the printed cards’ check bars";
    default:
      return change.do;
  }
}

/** The facts of a wall that a change sets, in words. */
const wallFields = ({ id, do: _do, seen, name, ...facts }) => Object.keys(facts).join(", ").replaceAll("_", " ");

const listed = (values, none = "as usual") =>
  Object.entries(values)
    .map(([key, value]) => `${key.replaceAll("_", " ")}: ${value === "" ? none : value}`)
    .join(", ");
