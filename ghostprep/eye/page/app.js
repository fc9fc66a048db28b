// Plays the loop and keeps the pictures, sliders and words of the page in step.
"use strict";

const data = JSON.parse(document.getElementById("data").textContent);
const by = (id) => document.getElementById(id);
// What has not changed is not said again to those who listen.
const say = (id, words) => { if (by(id).textContent !== words) by(id).textContent = words; };
const tell = (id, words) => { say(`${id}-now`, words); by(id).setAttribute("aria-valuetext", words); };
const count = data.frames, rate = data.rate, stage = data.stage;

async function decodeSheets() {
  return Promise.all(data.sheets.map(async (address) => {
    const image = new Image();
    image.src = address;
    await image.decode();
    return image;
  }));
}

// One frame of the loop as a small canvas, cut out of its sheet.
class Frames {
  constructor(sheets) {
    this.sheets = sheets; this.cell = data.sheet;
    this.canvas = document.createElement("canvas");
    this.canvas.width = this.cell.width; this.canvas.height = this.cell.height;
    this.paper = this.canvas.getContext("2d", { willReadFrequently: true });
  }

  draw(index) {
    const { width, height, columns, per } = this.cell, place = index % per;
    const x = (place % columns) * width, y = Math.floor(place / columns) * height;
    this.paper.drawImage(this.sheets[Math.floor(index / per)], x, y, width, height, 0, 0, width, height);
    return this.canvas;
  }

  light() {
    const { width, height } = this.cell;
    return LightPicture.fromCodes(this.paper.getImageData(0, 0, width, height).data, width, height);
  }
}

class View {
  constructor(scenery) {
    this.scenery = scenery;
    this.canvas = by("view");
    this.paper = this.canvas.getContext("2d");
    this.eye = stage.eye.slice();
    this.near = data.near.scale > data.whole.scale; this.lamps = 1; this.room = data.room_lux;
    this.hidden = new Set(data.photo ? ["paper figure"] : []);
  }

  get window() { return this.near ? data.near : data.whole; }

  look() {
    const win = this.window;
    this.canvas.width = win.columns; this.canvas.height = win.rows;
    this.canvas.style.setProperty("--aspect", win.columns / win.rows);
    this.sight = new Sight(stage, this.scenery, this.eye, win, this.hidden);
    this.touched = [...new Set(this.sight.lit.at)];
    this.sum = new Float32Array(3 * win.columns * win.rows); this.got = new Float32Array(this.sum.length);
    this.picture = this.paper.createImageData(win.columns, win.rows);
    const pitch = (stage.active[0] / data.sheet.width) * win.scale;
    this.times = Math.max(1, Math.min(4, Math.floor(1 / pitch)));
    this.whole = visibleShare(stage, this.scenery, this.eye, data.lit, this.hidden);
    this.relight();
  }

  relight() {
    const { lamp, room, first, second, through } = this.sight, sum = this.sum;
    const from = this.room * stage.room_share / Math.PI * stage.reflectance;
    const seen = (this.lamps * stage.scenery + from) * through, ghost = stage.white * (first + second);
    this.exposure = 0.85 / Math.max(ghost + seen, (seen * 0.8) / stage.reflectance, 1e-6);
    this.scale = (this.exposure * TONE_STEPS) / TONE_MOST;
    for (let k = 0; k < sum.length; k++) sum[k] = this.lamps * lamp[k] + this.room * room[k];
    const px = this.picture.data;
    for (let k = 0, j = 0; k < sum.length; k += 3, j += 4) {
      for (let c = 0; c < 3; c++) px[j + c] = this.tone(sum[k + c]);
      px[j + 3] = 255;
    }
    this.say(ghost);
  }

  tone(light) { return TONE[Math.min(TONE_STEPS, Math.round(light * this.scale))]; }

  show(light) {
    const screen = light.shrunk(this.times), px = this.picture.data, { lit } = this.sight, { got } = this;
    const black = 1 / stage.screen_contrast;
    for (const k of this.touched) got.fill(0, 3 * k, 3 * k + 3);
    for (let i = 0; i < lit.at.length; i++) {
      const at = 3 * lit.at[i], white = stage.white * lit.share[i];
      screen.add(lit.u[i], lit.v[i], white * (1 - black), got, at);
      for (let c = 0; c < 3; c++) got[at + c] += white * black;
    }
    for (const k of this.touched) for (let c = 0; c < 3; c++) px[4 * k + c] = this.tone(this.sum[3 * k + c] + got[3 * k + c]);
    this.paper.putImageData(this.picture, 0, 0);
  }

  say(ghost) {
    const { share, why, lamp, room } = this.whole, percent = (x) => `${Math.max(1, Math.round(100 * x))} %`;
    say("seen", share > 0.995
      ? "From here the whole figure is seen."
      : `From here ${Math.round(100 * share)} % of the figure's area is seen; hidden: ` +
        why.sort((a, b) => b[1] - a[1]).map(([name, part]) => `${percent(part)} by ${name}`).join(", ") + ".");
    const seen = this.lamps * lamp + this.room * room, contrast = (ghost + seen) / Math.max(seen, 1e-6);
    say("contrast", share === 0 ? "" :
      `Ghost ${ghost.toFixed(1)} cd/m², scenery ${seen.toFixed(1)} cd/m²: white stands out ${contrast.toFixed(1)} to 1.`);
    this.canvas.setAttribute("aria-label",
      `The ghost in the scene, simulated. ${by("seen").textContent} ${by("contrast").textContent}`);
  }
}

function upright(canvas, source) {
  const turned = data.quarter_turns % 2 === 1;
  canvas.width = turned ? source.height : source.width;
  canvas.height = turned ? source.width : source.height;
  const paper = canvas.getContext("2d");
  paper.translate(canvas.width / 2, canvas.height / 2);
  if (data.mirrored) paper.scale(-1, 1);
  paper.rotate((-data.quarter_turns * Math.PI) / 2);
  paper.drawImage(source, -source.width / 2, -source.height / 2);
}

function fillStrip(frames) {
  for (const canvas of document.querySelectorAll("canvas[data-strip]")) {
    upright(canvas, frames.draw(Number(canvas.dataset.strip)));
  }
}

class Player {
  constructor(frames, view) {
    this.frames = frames; this.view = view; this.shown = -1; this.playing = false;
    this.raster = by("raster").getContext("2d");
    this.order = Array.from({ length: count }, (_, k) => k);
    this.from = 0; this.since = 0;
  }

  around(joinOnly) {
    const reach = Math.max(1, Math.min(Math.round(rate), Math.floor(count / 2)));
    const [first, last] = data.join, about = 2 * reach + ((last - first + count) % count);
    this.order = joinOnly
      ? [...Array(Math.min(about, count))].map((_, k) => (first + 1 - reach + k + count) % count)
      : Array.from({ length: count }, (_, k) => k);
    this.from = Math.max(0, this.order.indexOf(this.shown)); this.since = performance.now();
  }

  show(index, again) {
    if (index === this.shown && !again) return;
    this.shown = index;
    const canvas = this.frames.draw(index);
    this.raster.drawImage(canvas, 0, 0);
    this.view.show(this.frames.light());
    by("frame").value = index;
    tell("frame", `frame ${index} of ${count}, ${(index / rate).toFixed(2)} s`);
    const cursor = by("cursor");
    if (cursor) cursor.setAttribute("transform", `translate(${cursor.dataset.left - 0 + (index * data.every + 0.5) * cursor.dataset.step} 0)`);
  }

  play(on) {
    this.playing = on;
    this.from = Math.max(0, this.order.indexOf(this.shown)); this.since = performance.now();
    by("play").textContent = on ? "Stop" : "Play";
  }

  step(by_) { this.play(false); this.show((this.shown + by_ + count) % count); }

  run() {
    const tick = (now) => {
      if (this.playing) {
        // the frame follows from the clock, so the loop keeps its rate and has no gap at its end
        const passed = Math.floor(((now - this.since) / 1000) * rate + 1e-6);
        this.show(this.order[(this.from + Math.max(0, passed)) % this.order.length]);
      }
      requestAnimationFrame(tick);
    };
    requestAnimationFrame(tick);
  }
}

function connect(view, player) {
  let pending = false;
  const again = (work) => {
    if (pending) return;
    pending = true;
    requestAnimationFrame(() => { pending = false; work(); player.show(player.shown, true); });
  };
  const eyeWords = () => {
    const [x, y] = [view.eye[0] - stage.eye[0], view.eye[1] - stage.eye[1]].map(Math.round);
    by("across").value = x; by("up").value = y;
    const length = (mm) => `${Number((Math.abs(mm) / data.units.mm).toFixed(data.units.name === "mm" ? 0 : 1))} ${data.units.name}`;
    tell("across", x === 0 ? "in the middle" : `${length(x)} to the ${x < 0 ? "left" : "right"}`);
    tell("up", y === 0 ? "in the middle" : `${length(y)} ${y < 0 ? "lower" : "higher"}`);
  };
  const move = (x, y) => {
    const within = (v, id) => Math.min(Math.max(v, Number(by(id).min)), Number(by(id).max));
    view.eye = [stage.eye[0] + within(x, "across"), stage.eye[1] + within(y, "up"), stage.eye[2]];
    eyeWords();
    again(() => view.look());
  };
  for (const id of ["across", "up"]) {
    by(id).addEventListener("input", () => move(Number(by("across").value), Number(by("up").value)));
  }
  by("middle").addEventListener("click", () => move(0, 0));
  const lightWords = () => {
    tell("lamps", `${Number((view.lamps * stage.scenery).toPrecision(2))} cd/m²`);
    tell("room", `${Number(view.room.toPrecision(2))} lux`);
  };
  const relit = () => { lightWords(); again(() => view.relight()); };
  by("lamps").addEventListener("input", () => { view.lamps = 10 ** Number(by("lamps").value); relit(); });
  by("room").addEventListener("input", () => {
    const step = Number(by("room").value);
    view.room = step === 0 ? 0 : 10 ** step;
    relit();
  });
  for (const [id, name] of [["card", "paper figure"], ["baffle", "baffle"]]) {
    if (by(id)) by(id).addEventListener("change", () => {
      if (by(id).checked) view.hidden.delete(name); else view.hidden.add(name);
      again(() => view.look());
    });
  }
  by("near").checked = view.near;
  by("near").addEventListener("change", () => {
    view.near = by("near").checked;
    again(() => view.look());
  });
  if (data.near.scale <= data.whole.scale) by("near").parentElement.remove();
  for (const button of document.querySelectorAll("button[data-ghost]")) {
    button.addEventListener("click", () => { player.show(Number(button.dataset.ghost)); player.play(true); });
  }
  by("play").addEventListener("click", () => player.play(!player.playing));
  by("back").addEventListener("click", () => player.step(-1));
  by("on").addEventListener("click", () => player.step(1));
  by("frame").addEventListener("input", () => { player.play(false); player.show(Number(by("frame").value)); });
  if (by("join-only")) by("join-only").addEventListener("change", () => player.around(by("join-only").checked));
  let held = null;
  view.canvas.addEventListener("pointerdown", (event) => {
    held = { x: event.clientX, y: event.clientY, eye: view.eye.slice() };
    view.canvas.setPointerCapture(event.pointerId);
  });
  view.canvas.addEventListener("pointermove", (event) => {
    if (!held) return;
    // the eye goes with the hand, at the size at which the box is shown
    const mm = view.canvas.width / view.canvas.clientWidth / view.window.scale;
    move(held.eye[0] - stage.eye[0] + (event.clientX - held.x) * mm * 1.5,
      held.eye[1] - stage.eye[1] - (event.clientY - held.y) * mm * 1.5);
  });
  for (const name of ["pointerup", "pointercancel"]) view.canvas.addEventListener(name, () => { held = null; });
  eyeWords();
  lightWords();
}

async function start() {
  const [sheets, pictures] = await Promise.all([decodeSheets(), Promise.all((data.photo ? [data.photo.picture] : stage.pictures).map(readPicture))]);
  const frames = new Frames(sheets);
  by("raster").width = data.sheet.width; by("raster").height = data.sheet.height;
  const view = new View(data.photo ? new Photographed(data.photo, stage, pictures[0]) : new Painted(stage, pictures));
  const player = new Player(frames, view);
  view.look();
  fillStrip(frames);
  connect(view, player);
  player.show(0, true);
  const still = matchMedia("(prefers-reduced-motion: reduce)").matches || !data.may_play;
  player.play(!still);
  player.run();
  document.documentElement.dataset.ready = "yes";
}

start().catch((error) => { by("seen").textContent = `The view cannot be shown: ${error.message}`; throw error; });
