// The same light paths as the still picture: straight lines from one eye through the opening.
// Vectors are arrays [x, y, z] in mm; x to the right, y up, z into the box.
"use strict";

const dot = (a, b) => a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
const minus = (a, b) => [a[0] - b[0], a[1] - b[1], a[2] - b[2]];

function faceReflectance(incidence, index) {
  const r = Math.asin(Math.sin(incidence) / index);
  const ci = Math.cos(incidence), cr = Math.cos(r);
  return {
    s: ((ci - index * cr) / (ci + index * cr)) ** 2,
    p: ((index * ci - cr) / (index * ci + cr)) ** 2,
  };
}

function reflectionFor(stage, eye) {
  const sight = minus(stage.image.centre, eye);
  const length = Math.sqrt(dot(sight, sight));
  const incidence = Math.acos(Math.min(1, Math.abs(dot(sight, stage.pane_normal)) / length));
  const face = faceReflectance(incidence, stage.index);
  const whole = { s: (2 * face.s) / (1 + face.s), p: (2 * face.p) / (1 + face.p) };
  const mixed = (v, s) => s * v.s + (1 - s) * v.p;
  const first = mixed(face, stage.share_s);
  const sine = Math.sin(incidence);
  const inside = Math.asin(sine / stage.index);
  const deeper = sine < 1e-6
    ? (2 * stage.thickness) / stage.index
    : (2 * stage.thickness * Math.tan(inside) * Math.cos(incidence)) / sine;
  return { first, second: mixed(whole, stage.share_s) - first, deeper, transmittance: 1 - mixed(whole, 0.5) };
}

// A lit panel made ready for many lines from one eye.
function panelFrom(panel, eye, moved) {
  const centre = moved ? panel.centre.map((c, k) => c - moved.by * moved.along[k]) : panel.centre;
  const gap = minus(centre, eye);
  return {
    toPlane: dot(gap, panel.normal), normal: panel.normal,
    right: panel.right, up: panel.up,
    gapRight: dot(gap, panel.right), gapUp: dot(gap, panel.up),
    wide: panel.active[0], high: panel.active[1],
  };
}

// Where a line meets a panel, as shares of its raster from the top left; false if it does not.
function onPanel(p, wx, wy, wz, out) {
  const facing = wx * p.normal[0] + wy * p.normal[1] + wz * p.normal[2];
  if (facing >= 0) return false;
  const t = p.toPlane / facing;
  if (!(t > 1)) return false;
  out[0] = (t * (wx * p.right[0] + wy * p.right[1] + wz * p.right[2]) - p.gapRight) / p.wide + 0.5;
  out[1] = 0.5 - (t * (wx * p.up[0] + wy * p.up[1] + wz * p.up[2]) - p.gapUp) / p.high;
  return out[0] >= 0 && out[0] <= 1 && out[1] >= 0 && out[1] <= 1;
}

// The scenery under each pixel (light of the lamps and of the room apart), and the pixels
// that get light from the screen, with the place on the raster it comes from.
function traceView(stage, scenery, eye, win, card, baffle) {
  const { columns, rows } = win;
  const count = columns * rows;
  const refl = reflectionFor(stage, eye);
  const lamp = new Float32Array(3 * count), room = new Float32Array(3 * count);
  const ghost = { at: [], u1: [], v1: [], u2: [], v2: [] };
  const bare = { at: [], u: [], v: [] };
  const [width, height, depth] = stage.box;
  const [left, low, right, high] = stage.opening, floor = stage.floor;
  const boardT = baffle ? (baffle[4] - eye[2]) / -eye[2] : Infinity;
  const corner = minus(stage.pane[0], eye);
  const slope = minus(stage.pane[1], stage.pane[0]), across = minus(stage.pane[3], stage.pane[0]);
  const slope2 = dot(slope, slope), across2 = dot(across, across), n = stage.pane_normal;
  const toPane = dot(corner, n), cornerSlope = dot(corner, slope), cornerAcross = dot(corner, across);
  const image = panelFrom(stage.image, eye, null);
  const second = panelFrom(stage.image, eye, { by: refl.deeper, along: n });
  const screen = panelFrom(stage.screen, eye, null);
  const place = [0, 0], light = new Float32Array(6);
  const cardT = (stage.image.centre[2] - eye[2]) / -eye[2];
  for (let row = 0, k = 0; row < rows; row++) {
    const y = win.top - (row + 0.5) / win.scale;
    for (let column = 0; column < columns; column++, k++) {
      const x = win.left + (column + 0.5) / win.scale;
      const inside = x > left && x < right && y > low && y < high;
      if (!inside) {
        const beside = Math.abs(x) > width / 2 + stage.wall || y > height + stage.wall || y < -stage.wall;
        scenery.outside(x, y, beside, light);
        for (let c = 0; c < 3; c++) { lamp[3 * k + c] = light[c]; room[3 * k + c] = light[3 + c]; }
        continue;
      }
      const wx = x - eye[0], wy = y - eye[1], wz = -eye[2];
      const side = wx === 0 ? Infinity : ((wx > 0 ? width / 2 : -width / 2) - eye[0]) / wx;
      const level = wy === 0 ? Infinity : ((wy > 0 ? height : floor) - eye[1]) / wy;
      let t = (depth - eye[2]) / wz, surface = 0;
      if (side < t && side <= level) { t = side; surface = wx < 0 ? 1 : 2; }
      else if (level < t && level < side) { t = level; surface = wy < 0 ? 3 : 4; }
      if (y < floor) { t = 1; surface = 3; }
      if (card && cardT < t) {
        const u = (eye[0] + cardT * wx - card.left) / (card.right - card.left);
        const v = (card.high - eye[1] - cardT * wy) / (card.high - card.low);
        if (u > 0 && u < 1 && v > 0 && v < 1 && card.covers(u, v)) { t = cardT; surface = 5; place[0] = u; place[1] = v; }
      }
      if (boardT <= t) {
        const bx = eye[0] + boardT * wx, by = eye[1] + boardT * wy;
        if (bx >= baffle[0] && bx <= baffle[2] && by >= baffle[1] && by <= baffle[3]) { t = boardT; surface = 6; }
      }
      if (surface < 5) {
        const a = (eye[0] + t * wx) / width + 0.5, b = 1 - (eye[1] + t * wy - floor) / (height - floor), d = (eye[2] + t * wz) / depth;
        place[0] = surface === 1 ? d : surface === 2 ? 1 - d : a;
        place[1] = surface === 3 ? 1 - d : surface === 4 ? d : b;
      }
      scenery.inside(surface, place[0], place[1], x, y, eye, light);
      const facing = wx * n[0] + wy * n[1] + wz * n[2];
      const tp = toPane / facing;
      let dim = 1;
      if (tp > 0 && tp < t) {
        const s = (tp * dot([wx, wy, wz], slope) - cornerSlope) / slope2;
        const a = (tp * dot([wx, wy, wz], across) - cornerAcross) / across2;
        if (s >= 0 && s <= 1 && a >= 0 && a <= 1) {
          dim = refl.transmittance;
          const one = onPanel(image, wx, wy, wz, place);
          const u1 = one ? place[0] : -1, v1 = place[1];
          const two = onPanel(second, wx, wy, wz, place);
          if (one || two) {
            ghost.at.push(k); ghost.u1.push(u1); ghost.v1.push(v1);
            ghost.u2.push(two ? place[0] : -1); ghost.v2.push(place[1]);
          }
        }
      }
      for (let c = 0; c < 3; c++) { lamp[3 * k + c] = light[c] * dim; room[3 * k + c] = light[3 + c] * dim; }
      if (stage.screen_shows && surface !== 6 && onPanel(screen, wx, wy, wz, place)) {
        bare.at.push(k); bare.u.push(place[0]); bare.v.push(place[1]);
      }
    }
  }
  for (const list of [ghost, bare]) for (const key of Object.keys(list)) {
    list[key] = key === "at" ? Int32Array.from(list[key]) : Float32Array.from(list[key]);
  }
  return { refl, lamp, room, ghost, bare };
}

// The share of some raster places (u, v) that an eye sees, and what takes the rest away.
function visibleShare(stage, eye, places) {
  const [left, low, right, high] = stage.opening, im = stage.image;
  const slope = minus(stage.pane[1], stage.pane[0]), across = minus(stage.pane[3], stage.pane[0]);
  let seen = 0, byOpening = 0, byPane = 0;
  for (const [u, v] of places) {
    const p = im.centre.map((c, k) => c + (u - 0.5) * im.active[0] * im.right[k] + (0.5 - v) * im.active[1] * im.up[k]);
    const way = minus(p, eye);
    const x = eye[0] - (eye[2] / way[2]) * way[0], y = eye[1] - (eye[2] / way[2]) * way[1];
    const t = dot(minus(stage.pane[0], eye), stage.pane_normal) / dot(way, stage.pane_normal);
    const met = minus([eye[0] + t * way[0], eye[1] + t * way[1], eye[2] + t * way[2]], stage.pane[0]);
    const s = dot(met, slope) / dot(slope, slope), a = dot(met, across) / dot(across, across);
    if (!(x >= left && x <= right && y >= low && y <= high)) byOpening++;
    else if (!(s >= 0 && s <= 1 && a >= 0 && a <= 1)) byPane++;
    else seen++;
  }
  return { share: seen / places.length, byOpening: byOpening / places.length, byPane: byPane / places.length };
}
