// The view as flat faces in perspective. What is where, how bright it is and what the pane does to light at
// which slant comes as numbers from Python; here they are only put in perspective, for any eye.
// Vectors are arrays [x, y, z] in mm; x to the right, y up, z into the box.
"use strict";

const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const minus = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];
const BODY = 0, LIT = -2, MIRROR = -10, NOTHING = -1;

// The way from an eye through the middle of a pixel.
function wayOf(win, eye, k) {
  const row = Math.floor(k / win.columns), column = k - row * win.columns;
  return [win.left + (column + 0.5) / win.scale - eye[0], win.top - (row + 0.5) / win.scale - eye[1], -eye[2]];
}

// A place in a mirror is that place behind it: points x become turn * x + shift.
class Mirrored {
  constructor(turn = [[1, 0, 0], [0, 1, 0], [0, 0, 1]], shift = [0, 0, 0]) { this.turn = turn; this.shift = shift; }
  way(v) { return this.turn.map((row) => dot(row, v)); }
  point(p) { return this.way(p).map((v, k) => v + this.shift[k]); }
  // First in a mirror with this point and normal, then in this one.
  after(point, normal) {
    const turn = this.turn.map((row) => row.map((v, j) => v - 2 * dot(row, normal) * normal[j]));
    const back = 2 * dot(point, normal);
    return new Mirrored(turn, this.point(normal.map((v) => back * v)));
  }
}

// A rectangle as one eye meets it: its ways' scale, and the place on it, from sums that run along a row of pixels.
class Seen {
  constructor(face, mirrored, eye) {
    this.corner = mirrored.point(face.corner); this.right = mirrored.way(face.right); this.down = mirrored.way(face.down);
    this.normal = mirrored.way(face.normal);
    const gap = minus(this.corner, eye);
    this.gap = dot(gap, this.normal); this.front = this.gap < 0;
    this.gapRight = dot(gap, this.right) / dot(this.right, this.right);
    this.gapDown = dot(gap, this.down) / dot(this.down, this.down);
    this.perRight = this.right.map((v) => v / dot(this.right, this.right));
    this.perDown = this.down.map((v) => v / dot(this.down, this.down));
  }

  // The pixels that may show it: left, top, right, bottom.
  bounds(eye, win) {
    let [x0, y0, x1, y1] = [Infinity, Infinity, -Infinity, -Infinity];
    for (const [u, v] of [[0, 0], [1, 0], [1, 1], [0, 1]]) {
      const p = this.corner.map((c, k) => c + u * this.right[k] + v * this.down[k] - eye[k]);
      if (p[2] < 1e-3) return [0, 0, win.columns - 1, win.rows - 1];
      const t = -eye[2] / p[2];
      const x = (eye[0] + t * p[0] - win.left) * win.scale, y = (win.top - eye[1] - t * p[1]) * win.scale;
      x0 = Math.min(x0, x); x1 = Math.max(x1, x); y0 = Math.min(y0, y); y1 = Math.max(y1, y);
    }
    return [Math.max(0, Math.floor(x0)), Math.max(0, Math.floor(y0)),
      Math.min(win.columns - 1, Math.ceil(x1)), Math.min(win.rows - 1, Math.ceil(y1))];
  }

  // The place on it that a line meets, as shares from its upper left corner.
  place(way) {
    const t = this.gap / dot(way, this.normal);
    return [t * dot(way, this.perRight) - this.gapRight, t * dot(way, this.perDown) - this.gapDown];
  }

  // Calls `hit(pixel, scale of the way, u, v)` for each pixel whose line meets it.
  scan(eye, win, hit) {
    const [x0, y0, x1, y1] = this.bounds(eye, win), n = this.normal, r = this.perRight, d = this.perDown;
    const step = 1 / win.scale;
    for (let row = y0; row <= y1; row++) {
      const wx = win.left + (x0 + 0.5) * step - eye[0], wy = win.top - (row + 0.5) * step - eye[1], wz = -eye[2];
      let wn = wx * n[0] + wy * n[1] + wz * n[2], wr = wx * r[0] + wy * r[1] + wz * r[2], wd = wx * d[0] + wy * d[1] + wz * d[2];
      for (let k = row * win.columns + x0, last = row * win.columns + x1; k <= last; k++) {
        const t = this.gap / wn, u = t * wr - this.gapRight, v = t * wd - this.gapDown;
        if (t > 0 && u >= 0 && u <= 1 && v >= 0 && v <= 1) hit(k, t, u, v);
        wn += n[0] * step; wr += r[0] * step; wd += d[0] * step;
      }
    }
  }
}

function lookUp(table, cosine) {
  const x = Math.min(cosine, 1) * (table.length - 1), k = Math.min(Math.floor(x), table.length - 2);
  return table[k] + (x - k) * (table[k + 1] - table[k]);
}

// What one eye sees: light of lamps and of the room at each pixel, and where the screen's light arrives.
class Sight {
  constructor(stage, scenery, eye, win, hidden) {
    this.stage = stage; this.scenery = scenery; this.eye = eye; this.win = win;
    const count = win.columns * win.rows;
    this.lamp = new Float32Array(3 * count); this.room = new Float32Array(3 * count);
    this.lit = { at: [], u: [], v: [], share: [] };
    this.faces = stage.faces.filter((face) => !hidden.has(face.name));
    const sight = minus(stage.ghost, eye);
    this.cosine = Math.abs(dot(sight, stage.pane.normal)) / Math.sqrt(dot(sight, sight));
    this.first = lookUp(stage.light.first, this.cosine); this.second = lookUp(stage.light.second, this.cosine);
    this.through = lookUp(stage.light.through, this.cosine);
    this.deeper = lookUp(stage.light.deeper, this.cosine);
    const all = { share: new Float32Array(count).fill(1), from: new Float32Array(count), met: new Uint8Array(count) };
    this.root = this.look(new Mirrored(), all, null, 0);
  }

  arrives(at, u, v, share) { this.lit.at.push(at); this.lit.u.push(u); this.lit.v.push(v); this.lit.share.push(share); }

  // Draws the world as it stands behind some mirrors: at pixels with a share, beyond the scale `from`.
  look(mirrored, behind, turnedBy, depth) {
    const { stage, eye, win } = this, count = win.columns * win.rows;
    const far = new Float32Array(count).fill(Infinity), what = new Int16Array(count).fill(NOTHING);
    const beyond = (k, t) => behind.share[k] > 0 && t > behind.from[k] * 1.00001;
    const seen = this.faces.map((face) => new Seen(face, mirrored, eye));
    seen.forEach((face, i) => {
      if (face.front) face.scan(eye, win, (k, t) => { if (t < far[k] && beyond(k, t)) { far[k] = t; what[k] = i; } });
    });
    const screen = new Seen(stage.screen, mirrored, eye), places = { u: new Float32Array(count), v: new Float32Array(count) };
    if (screen.front) screen.scan(eye, win, (k, t, u, v) => {
      if (t <= far[k] * 1.00001 && beyond(k, t)) { far[k] = t; what[k] = LIT; places.u[k] = u; places.v[k] = v; }
    });
    stage.mirrors.forEach((mirror, i) => new Seen(mirror, mirrored, eye).scan(eye, win, (k, t) => {
      if (t <= far[k] * 1.00001 && beyond(k, t)) { far[k] = t; what[k] = MIRROR - i; }
    }));
    const share = behind.share.slice(), met = behind.met.slice();
    const pane = new Seen(stage.pane, mirrored, eye), slant = new Float32Array(count);
    const turned = { share: new Float32Array(count), from: new Float32Array(count), met: new Uint8Array(count).fill(1) };
    let any = false;
    pane.scan(eye, win, (k, t) => {
      if (!(t < far[k] * 0.99999 && beyond(k, t))) return;
      const way = wayOf(win, eye, k), cosine = Math.abs(dot(way, pane.normal)) / Math.sqrt(dot(way, way));
      if (!met[k]) { turned.share[k] = share[k]; turned.from[k] = t; slant[k] = cosine; any = true; met[k] = 1; }
      share[k] *= lookUp(stage.light.through, cosine);
    });
    for (let k = 0; k < count; k++) {
      if (!(behind.share[k] > 0)) continue;
      const s = turnedBy ? share[k] * (1 - lookUp(stage.light.through, turnedBy[k])) : share[k];
      if (what[k] === LIT) {
        const one = turnedBy ? share[k] * lookUp(stage.light.first, turnedBy[k]) : share[k];
        this.arrives(k, places.u[k], places.v[k], one);
      } else if (what[k] > MIRROR || this.scenery.flat) this.scenery.add(this, what[k], seen[what[k]], k, s, depth);
    }
    if (turnedBy) {
      // the image from the pane's back face lies deeper
      const by = mirrored.way(stage.pane.normal).map((v) => v * this.deeper);
      const deeper = new Mirrored(mirrored.turn, mirrored.shift.map((v, k) => v + by[k]));
      const second = new Seen(stage.screen, deeper, eye);
      if (second.front) second.scan(eye, win, (k, t, u, v) => {
        if (beyond(k, t) && (what[k] === LIT || t <= far[k] * 1.00001)) {
          this.arrives(k, u, v, share[k] * lookUp(stage.light.second, turnedBy[k]));
        }
      });
    }
    if (depth < 3) {
      if (any) this.look(mirrored.after(stage.pane.corner, stage.pane.normal), turned, slant, depth + 1);
      stage.mirrors.forEach((mirror, i) => {
        const there = { share: new Float32Array(count), from: far, met };
        let some = false;
        const front = new Seen(mirror, mirrored, eye).front;
        for (let k = 0; k < count; k++) {
          if (what[k] !== MIRROR - i || !front) continue;
          there.share[k] = share[k] * stage.mirror_reflectance; some = true;
        }
        if (some) this.look(mirrored.after(mirror.corner, mirror.normal), there, turnedBy, depth + 1);
      });
    }
    return { what, far, seen };
  }
}

// The part of the lit picture that an eye sees, and what hides the rest: a small view of the ghost alone.
function visibleShare(stage, scenery, eye, lit, hidden) {
  const [u0, v0, u1, v1] = lit, image = new Mirrored().after(stage.pane.corner, stage.pane.normal);
  const panel = { ...stage.screen };
  panel.corner = panel.corner.map((c, k) => c + u0 * panel.right[k] + v0 * panel.down[k]);
  panel.right = panel.right.map((r) => r * (u1 - u0)); panel.down = panel.down.map((d) => d * (v1 - v0));
  const place = new Seen(panel, image, eye), size = 28;
  const points = [[0, 0], [1, 0], [1, 1], [0, 1]].map(([u, v]) => {
    const p = place.corner.map((c, k) => c + u * place.right[k] + v * place.down[k] - eye[k]), t = -eye[2] / p[2];
    return [eye[0] + t * p[0], eye[1] + t * p[1]];
  });
  const xs = points.map((p) => p[0]), ys = points.map((p) => p[1]);
  const wide = Math.max(...xs) - Math.min(...xs), high = Math.max(...ys) - Math.min(...ys), scale = size / Math.max(wide, high);
  const win = { left: Math.min(...xs), top: Math.max(...ys), scale, columns: Math.max(1, Math.round(wide * scale)), rows: Math.max(1, Math.round(high * scale)) };
  const sight = new Sight(stage, scenery, eye, win, hidden), seen = new Set(sight.lit.at);
  const pane = new Seen(stage.pane, new Mirrored(), eye), why = new Map();
  let all = 0, shown = 0, lamp = 0, room = 0;
  place.scan(eye, win, (k, t) => {
    all += 1;
    if (seen.has(k)) {
      shown += 1;
      lamp += 0.2126 * sight.lamp[3 * k] + 0.7152 * sight.lamp[3 * k + 1] + 0.0722 * sight.lamp[3 * k + 2];
      room += 0.2126 * sight.room[3 * k] + 0.7152 * sight.room[3 * k + 1] + 0.0722 * sight.room[3 * k + 2];
      return;
    }
    const what = sight.root.what[k];
    const before = what >= BODY && sight.root.far[k] < pane.gap / dot(wayOf(win, eye, k), pane.normal);
    const name = before ? sight.faces[what].name : "the pane's edge or a body before the screen";
    why.set(name, (why.get(name) || 0) + 1);
  });
  return { share: all ? shown / all : 0, why: [...why].map(([name, n]) => [name, n / all]), lamp: shown ? lamp / shown : 0, room: shown ? room / shown : 0 };
}
