/** A job with changes laid over it that the laptop does not have yet, so that a person sees at once what was done. */

import { progress } from "./queue.js";
import { localPhoto, thingsOf } from "./things.js";

/**
 * @param {any} job as the laptop holds it (not changed)
 * @param {import("./queue.js").Entry[]} entries of this job, oldest first
 * @returns {any} a copy with the entries laid over it
 */
export function withUnsent(job, entries) {
  const copy = structuredClone(job);
  for (const entry of entries) {
    if (entry.type === "photo") layPhoto(copy, entry);
    else if (entry.state === "waiting") lay(copy, entry.change);
  }
  return copy;
}

/**
 * The laptop's job with one change that it has just answered, until the whole job is asked for again: what a person does
 * next must build on it, and not take a name that is taken or overwrite what was just made.
 * @param {any} job
 * @param {any} change
 * @param {any} now the thing as the laptop holds it after the change
 */
export function withAnswered(job, change, now) {
  const copy = structuredClone(job);
  lay(copy, change);
  const wall = wallOf(copy, change.wall ?? change.name);
  const put = (list, mine) => list.map((one) => (mine(one) ? now : one));
  if (now && change.do === "mark") wall.marks = put(wall.marks, (mark) => mark.name === now.name);
  else if (now && change.do === "tape") wall.tapes = put(wall.tapes, (tape) => sameTape(tape, change));
  else if (now && change.do === "photo") wall.photos = put(wall.photos, (photo) => photo.name === change.photo);
  else if (now && ["wall", "new-wall"].includes(change.do)) Object.assign(wall, { ...now, room: undefined, unsent: false });
  else if (now && change.do === "about") Object.assign(copy, now);
  else if (now && change.do === "conditions") Object.assign((wall ?? copy).conditions, now);
  else if (now && change.do === "scheme") layScheme(copy.scheme, Object.fromEntries(Object.entries(now).map(([key, value]) => [key, value ?? ""])));
  return copy;
}

/** Every wall of a job, room by room. @returns {any[]} */
export const wallsOf = (job) => job.rooms.flatMap((room) => room.walls);

/** The wall of that name, if there is one. */
export const wallOf = (job, name) => wallsOf(job).find((wall) => wall.name === name);

function layPhoto(job, entry) {
  const photos = wallOf(job, entry.wall)?.photos;
  const arrived = progress.get(entry.id) === 1 && photos?.some((photo) => photo.name === entry.name);
  if (arrived) return; // it is on the laptop, which is still looking for cards before it answers
  photos?.push({ name: localPhoto(entry.id), file: entry.name, caption: "", record_only: false, unsent: entry });
}

const laid = {
  "new-wall": layWall,
  wall: layWall,
  "remove-wall": (job, change) => {
    for (const room of job.rooms) room.walls = room.walls.filter((wall) => wall.name !== change.name);
  },
  mark: (job, change) => onWall(job, change, (wall) => layMark(wall, change.mark)),
  "remove-mark": (job, change) =>
    onWall(job, change, (wall) => (wall.marks = wall.marks.filter((mark) => mark.name !== change.name))),
  tape: (job, change) =>
    onWall(job, change, (wall) => {
      const { start, end, length, along, check_only } = change;
      wall.tapes = wall.tapes.filter((tape) => !sameTape(tape, change));
      wall.tapes.push({ start, end, length, along: along ?? "", check_only: check_only ?? false, unsent: true });
    }),
  "remove-tape": (job, change) =>
    onWall(job, change, (wall) => {
      const ends = (one) => [one.start, one.end].sort().join("\n");
      wall.tapes = wall.tapes.filter((tape) => ends(tape) !== ends(change));
    }),
  photo: (job, change) =>
    onWall(job, change, (wall) => {
      const photo = wall.photos.find((one) => one.name === change.photo);
      if (photo) Object.assign(photo, given(change, ["caption", "record_only"]), { unsent: true });
    }),
  "remove-photo": (job, change) =>
    onWall(job, change, (wall) => {
      wall.photos = wall.photos.filter((photo) => photo.name !== change.photo);
      for (const mark of wall.marks) mark.sights = mark.sights.filter((sight) => sight.photo !== change.photo);
    }),
  about: (job, change) => Object.assign(job, change.facts),
  scheme: (job, change) => layScheme(job.scheme, change.wishes),
  "print-run": (job, change) => Object.assign(job.print_run, given(change, ["name", "across", "up"])),
  conditions: (job, change) => {
    const on = change.wall ? wallOf(job, change.wall) : job;
    if (on) on.conditions = { ...on.conditions, ...change.facts };
  },
};

function lay(job, change) {
  laid[change.do]?.(job, change);
}

function onWall(job, change, edit) {
  const wall = wallOf(job, change.wall);
  if (wall) edit(wall);
}

function layWall(job, change) {
  const fields = ["left", "right", "width", "ceiling", "bow", "bullnose_radius", "note"];
  const there = wallOf(job, change.name);
  if (there) return Object.assign(there, given(change, fields), { unsent: true });
  const name = change.room || job.rooms.at(-1)?.name || "room";
  let room = job.rooms.find((one) => one.name === name);
  if (!room) job.rooms.push((room = { name, walls: [] }));
  room.walls.push({ ...emptyWall(change.name), ...given(change, fields), unsent: true });
  return undefined;
}

/** A wall as the laptop would make it. */
const emptyWall = (name) => ({
  name, left: "inside corner", right: "inside corner", width: null, ceiling: null, bow: null,
  photos: [], marks: [], tapes: [], asides: [], note: "",
});

function layMark(wall, mark) {
  const old = wall.marks.find((one) => one.name === mark.name);
  const photos = new Set((mark.sights ?? []).map((sight) => sight.photo));
  const kept = (old?.sights ?? []).filter((sight) => !photos.has(sight.photo));
  const whole = { ...emptyMark, ...old, ...mark, sights: [...kept, ...(mark.sights ?? [])], unsent: true };
  if (old) wall.marks = wall.marks.map((one) => (one === old ? whole : one));
  else wall.marks.push(whole);
}

const emptyMark = {
  sights: [], width: null, height: null, gangs: 1, projection: null, side: null, stud_side: null, cable_slack: null,
  note: "",
};

/** Whether a reading and another lie between the same two places, laid and used alike. */
export const sameTape = (one, other) =>
  thingsOf({ ...one, do: "tape" })[0] === thingsOf({ ...other, do: "tape", wall: undefined })[0] &&
  Boolean(one.check_only) === Boolean(other.check_only);

function layScheme(scheme, wishes) {
  const keyed = { panels: "panels", pin: "pins", stile_at: "stile_at", no_stile: "no_stile" };
  for (const [key, value] of Object.entries(wishes)) {
    const dot = key.indexOf(".");
    const group = dot > 0 && keyed[key.slice(0, dot)];
    if (!group) {
      if (value !== "") scheme[key] = value;
      continue;
    }
    scheme[group] = { ...scheme[group], [key.slice(dot + 1)]: value };
    if (value === "") delete scheme[group][key.slice(dot + 1)];
  }
}

const given = (change, fields) =>
  Object.fromEntries(fields.filter((field) => change[field] !== undefined).map((field) => [field, change[field]]));
