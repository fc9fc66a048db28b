// Linear light, the scenery's pictures, and the tone of the reader's display.
"use strict";

const LINEAR = Float32Array.from({ length: 256 }, (_, code) => {
  const v = code / 255;
  return v <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
});

// Display codes over shares of white 0..4, with the same bend above 0.7 as the still picture.
const TONE_STEPS = 32768, TONE_MOST = 4;
const TONE = Uint8ClampedArray.from({ length: TONE_STEPS + 1 }, (_, step) => {
  let share = (step / TONE_STEPS) * TONE_MOST;
  if (share > 0.7) share = 0.7 + 0.3 * (1 - Math.exp(-(share - 0.7) / 0.3));
  return Math.round(255 * (share <= 0.0031308 ? share * 12.92 : 1.055 * share ** (1 / 2.4) - 0.055));
});

// A picture as linear light, sampled between its pixels.
class LightPicture {
  constructor(wide, high, values) { this.wide = wide; this.high = high; this.values = values; }

  static fromCodes(pixels, wide, high) {
    const values = new Float32Array(3 * wide * high);
    for (let k = 0, j = 0; k < values.length; k += 3, j += 4) {
      values[k] = LINEAR[pixels[j]]; values[k + 1] = LINEAR[pixels[j + 1]]; values[k + 2] = LINEAR[pixels[j + 2]];
    }
    return new LightPicture(wide, high, values);
  }

  // Means of squares of `times` pixels, so that fine detail does not sparkle in a small view.
  shrunk(times) {
    if (times < 2) return this;
    const wide = Math.max(1, Math.floor(this.wide / times)), high = Math.max(1, Math.floor(this.high / times));
    const values = new Float32Array(3 * wide * high), per = 1 / (times * times);
    for (let y = 0; y < high; y++) for (let x = 0; x < wide; x++) {
      const to = 3 * (y * wide + x);
      for (let dy = 0; dy < times; dy++) for (let dx = 0; dx < times; dx++) {
        const from = 3 * ((y * times + dy) * this.wide + x * times + dx);
        for (let c = 0; c < 3; c++) values[to + c] += this.values[from + c] * per;
      }
    }
    return new LightPicture(wide, high, values);
  }

  add(u, v, factor, out, at) {
    const x = Math.min(Math.max(u * this.wide - 0.5, 0), this.wide - 1);
    const y = Math.min(Math.max(v * this.high - 0.5, 0), this.high - 1);
    const x0 = Math.floor(x), y0 = Math.floor(y);
    const x1 = Math.min(x0 + 1, this.wide - 1), y1 = Math.min(y0 + 1, this.high - 1);
    const fx = x - x0, fy = y - y0, px = this.values;
    const a = 3 * (y0 * this.wide + x0), b = 3 * (y0 * this.wide + x1);
    const c = 3 * (y1 * this.wide + x0), d = 3 * (y1 * this.wide + x1);
    for (let k = 0; k < 3; k++) {
      const upper = px[a + k] * (1 - fx) + px[b + k] * fx, lower = px[c + k] * (1 - fx) + px[d + k] * fx;
      out[at + k] += factor * (upper * (1 - fy) + lower * fy);
    }
  }
}

async function readPicture(address) {
  const image = new Image();
  image.src = address;
  await image.decode();
  const canvas = document.createElement("canvas");
  canvas.width = image.naturalWidth; canvas.height = image.naturalHeight;
  const paper = canvas.getContext("2d", { willReadFrequently: true });
  paper.drawImage(image, 0, 0);
  const pixels = paper.getImageData(0, 0, canvas.width, canvas.height).data;
  return LightPicture.fromCodes(pixels, canvas.width, canvas.height);
}

// What is painted on the faces of all bodies, in the lamps' light and the room's.
class Painted {
  constructor(stage, pictures) { this.stage = stage; this.pictures = pictures; this.paint = new Float32Array(3); }

  // Adds the light of a face (NOTHING: the room before the box) at a pixel, times a share.
  add(sight, what, seen, k, share) {
    const stage = this.stage, at = 3 * k;
    if (what < 0) {
      for (let c = 0; c < 3; c++) sight.room[at + c] += (share * stage.room_reflectance) / Math.PI;
      return;
    }
    const face = sight.faces[what], [u, v] = seen.place(wayOf(sight.win, sight.eye, k));
    if (face.picture === undefined) this.paint.set(face.paint);
    else { this.paint.fill(0); this.pictures[face.picture].add(u, v, 1, this.paint, 0); }
    const lamp = share * this.shade(face.map, u, v) * stage.full, room = (share * face.room) / Math.PI;
    for (let c = 0; c < 3; c++) {
      sight.lamp[at + c] += this.paint[c] * lamp * stage.lamp_tint[c];
      sight.room[at + c] += this.paint[c] * room;
    }
  }

  shade(map, u, v) {
    const n = this.stage.grid, x = Math.min(Math.max(u * n - 0.5, 0), n - 1), y = Math.min(Math.max(v * n - 0.5, 0), n - 1);
    const x0 = Math.floor(x), y0 = Math.floor(y), x1 = Math.min(x0 + 1, n - 1), y1 = Math.min(y0 + 1, n - 1);
    const fx = x - x0, fy = y - y0;
    return (map[y0 * n + x0] * (1 - fx) + map[y0 * n + x1] * fx) * (1 - fy) + (map[y1 * n + x0] * (1 - fx) + map[y1 * n + x1] * fx) * fy;
  }
}

// The builder's photograph, laid at the ghost's depth; what is mirrored in it is in it.
class Photographed {
  constructor(data, stage, picture) { this.data = data; this.picture = picture; this.stage = stage; this.flat = true; }

  add(sight, _what, _seen, k, share, depth) {
    if (depth > 0) return;
    const { data, stage } = this, { eye } = sight, m = data.to_photo, middle = stage.eye, z = stage.ghost[2];
    const way = wayOf(sight.win, eye, k), o = stage.opening;
    let x = eye[0] + way[0], y = eye[1] + way[1];
    if (x > o[0] && x < o[2] && y > o[1] && y < o[3]) {
      // as the middle eye sees what this one sees at the ghost's depth
      const out = (z - eye[2]) / -eye[2], back = -middle[2] / (z - middle[2]);
      x = middle[0] + (eye[0] + way[0] * out - middle[0]) * back;
      y = middle[1] + (eye[1] + way[1] * out - middle[1]) * back;
    }
    const w = m[2][0] * x + m[2][1] * y + m[2][2];
    this.picture.add((m[0][0] * x + m[0][1] * y + m[0][2]) / w / data.photo_size[0],
      (m[1][0] * x + m[1][1] * y + m[1][2]) / w / data.photo_size[1], data.gain * share, sight.lamp, 3 * k);
  }
}
