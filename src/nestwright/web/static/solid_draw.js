// Parts in the round: reads a glTF 2.0 binary and draws it with WebGL 2. Knows nothing of the page around it.

const SIZES = { SCALAR: 1, VEC2: 2, VEC3: 3, VEC4: 4, MAT4: 16 };
const NUMBERS = { 5120: Int8Array, 5121: Uint8Array, 5122: Int16Array, 5123: Uint16Array, 5125: Uint32Array, 5126: Float32Array };

// ---- Reading (glTF 2.0, Khronos Group: chapters 3 and 4) ----

// Pieces of a .glb: names of the node and of those above it, deepest first; linear colour; triangles where they stand.
export function readGlb(buffer) {
  const bytes = new DataView(buffer);
  if (buffer.byteLength < 20 || bytes.getUint32(0, true) !== 0x46546c67 || bytes.getUint32(4, true) !== 2) throw new Error("is no glTF 2.0");
  const length = bytes.getUint32(12, true);
  const told = JSON.parse(new TextDecoder().decode(new Uint8Array(buffer, 20, length)));
  if (told.extensionsRequired?.length) throw new Error(`needs ${told.extensionsRequired}`);
  const binary = 20 + length + 8;
  const pieces = [];
  const walk = (index, above, names) => {
    const node = told.nodes[index];
    const placed = multiply(above, node.matrix ?? fromParts(node));
    const mesh = node.mesh === undefined ? null : told.meshes[node.mesh];
    const all = [node.name, mesh?.name, ...names].filter(Boolean);
    for (const primitive of mesh?.primitives ?? []) {
      if ((primitive.mode ?? 4) === 4) pieces.push(piece(told, buffer, binary, primitive, placed, all));
    }
    for (const child of node.children ?? []) walk(child, placed, all);
  };
  for (const root of told.scenes[told.scene ?? 0].nodes) walk(root, identity(), []);
  return pieces;
}

function piece(told, buffer, binary, primitive, placed, names) {
  const from = values(told, buffer, binary, primitive.attributes.POSITION);
  const order = primitive.indices === undefined
    ? Uint32Array.from({ length: from.length / 3 }, (_, n) => n)
    : Uint32Array.from(values(told, buffer, binary, primitive.indices));
  // a mirrored place turns inside and outside about
  if (determinant(placed) < 0) for (let n = 0; n < order.length; n += 3) [order[n], order[n + 1]] = [order[n + 1], order[n]];
  const smooth = primitive.attributes.NORMAL === undefined ? null : values(told, buffer, binary, primitive.attributes.NORMAL);
  const at = new Float32Array(order.length * 3), normals = new Float32Array(order.length * 3);
  const low = [Infinity, Infinity, Infinity], high = [-Infinity, -Infinity, -Infinity];
  order.forEach((v, n) => {
    const [x, y, z] = from.subarray(3 * v, 3 * v + 3);
    for (let k = 0; k < 3; k++) {
      const told_at = placed[k] * x + placed[4 + k] * y + placed[8 + k] * z + placed[12 + k];
      at[3 * n + k] = told_at;
      low[k] = Math.min(low[k], told_at);
      high[k] = Math.max(high[k], told_at);
      // right for turns and even scales, which is what places of parts are
      if (smooth) normals[3 * n + k] = placed[k] * smooth[3 * v] + placed[4 + k] * smooth[3 * v + 1] + placed[8 + k] * smooth[3 * v + 2];
    }
  });
  const faces = new Float32Array(order.length);
  for (let n = 0; n < order.length; n += 3) {
    const face = normalOf(at, 3 * n);
    faces.set(face, n);
    if (!smooth) for (let k = 0; k < 3; k++) normals.set(face, 3 * (n + k));
  }
  const look = told.materials?.[primitive.material] ?? {};
  return {
    names, at, normals, low, high, edges: edges(at, faces, low, high),
    colour: look.pbrMetallicRoughness?.baseColorFactor ?? [0.6, 0.6, 0.55, 1],
    clear: look.alphaMode === "BLEND" && (look.pbrMetallicRoughness?.baseColorFactor?.[3] ?? 1) < 0.99,
  };
}

function values(told, buffer, binary, index) {
  const one = told.accessors[index], view = told.bufferViews[one.bufferView];
  if (one.sparse || !view) throw new Error("has a sparse accessor");
  const kind = NUMBERS[one.componentType], wide = SIZES[one.type];
  const step = view.byteStride ?? wide * kind.BYTES_PER_ELEMENT;
  const start = binary + (view.byteOffset ?? 0) + (one.byteOffset ?? 0);
  if (step === wide * kind.BYTES_PER_ELEMENT) return new kind(buffer.slice(start, start + step * one.count));
  const out = new kind(one.count * wide);
  for (let n = 0; n < one.count; n++) out.set(new kind(buffer.slice(start + n * step, start + n * step + wide * kind.BYTES_PER_ELEMENT)), n * wide);
  return out;
}

function normalOf(at, n) {
  const a = [0, 1, 2].map((k) => at[n + 3 + k] - at[n + k]), b = [0, 1, 2].map((k) => at[n + 6 + k] - at[n + k]);
  const c = [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]];
  const size = Math.hypot(...c) || 1;
  return c.map((x) => x / size);
}

// Lines where two faces meet at more than 30 degrees, and where a face ends.
function edges(at, faces, low, high) {
  const fine = 1e5 / Math.max(1e-9, ...[0, 1, 2].map((k) => high[k] - low[k]));
  const known = new Map(), corner = new Uint32Array(at.length / 3);
  for (let n = 0; n < corner.length; n++) {
    const key = [0, 1, 2].map((k) => Math.round((at[3 * n + k] - low[k]) * fine)).join();
    if (!known.has(key)) known.set(key, known.size);
    corner[n] = known.get(key);
  }
  const lines = new Map(), many = known.size;
  for (let n = 0; n < corner.length; n += 3) {
    for (const [a, b] of [[n, n + 1], [n + 1, n + 2], [n + 2, n]]) {
      const [p, q] = corner[a] < corner[b] ? [a, b] : [b, a];
      if (corner[p] === corner[q]) continue;
      const key = corner[p] * many + corner[q], there = lines.get(key);
      if (!there) { lines.set(key, { p, q, n, sharp: true, seen: 1 }); continue; }
      const along = faces[n] * faces[there.n] + faces[n + 1] * faces[there.n + 1] + faces[n + 2] * faces[there.n + 2];
      there.sharp = there.seen === 1 ? along < 0.866 : there.sharp || along < 0.866;
      there.seen += 1;
    }
  }
  const sharp = [...lines.values()].filter((one) => one.sharp);
  const out = new Float32Array(sharp.length * 6);
  sharp.forEach((one, n) => { out.set(at.subarray(3 * one.p, 3 * one.p + 3), 6 * n); out.set(at.subarray(3 * one.q, 3 * one.q + 3), 6 * n + 3); });
  return out;
}

// ---- Drawing ----

const VERTEX = `#version 300 es
layout(location=0) in vec3 at; layout(location=1) in vec3 normal;
uniform mat4 view; uniform vec3 move; out vec3 own; out vec3 upright;
void main() { own = at; upright = normal; gl_Position = view * vec4(at + move, 1.); }`;
const FRAGMENT = `#version 300 es
precision highp float;
in vec3 own; in vec3 upright; out vec4 colour;
uniform vec4 paint; uniform vec3 light; uniform float cut; uniform int kind; uniform vec3 night; uniform float lines;
void main() {
  if (own.z > cut) discard;
  if (kind != 0) { colour = paint; return; }  // lines, and marks to pick by
  vec3 told = pow(paint.rgb, vec3(1. / 2.2));
  if (gl_FrontFacing || cut > 1e8) {
    vec3 n = normalize(upright) * (gl_FrontFacing ? 1. : -1.);
    told *= .66 + .3 * max(0., dot(n, light)) + .06 * n.y;
  } else {  // the inside of a part that is cut: hatched, as on a drawing
    told *= mod(gl_FragCoord.x + gl_FragCoord.y, lines) < lines * .22 ? .5 : .82;
  }
  if (night.x >= 0.) told = dot(told, vec3(.3, .59, .11)) * night;
  colour = vec4(told, paint.a);
}`;

// A drawing of pieces on a canvas. `look` = {turn, tilt, zoom, apart, cut, chosen}; chosen is an index of a piece's group.
export function drawing(canvas, pieces) {
  const gl = canvas.getContext("webgl2", { alpha: false, antialias: true, powerPreference: "low-power" });
  if (!gl) return null;
  const program = linked(gl);
  const place = (name) => gl.getUniformLocation(program, name);
  const [view, move, paint, light, cut, kind, night, lines] = ["view", "move", "paint", "light", "cut", "kind", "night", "lines"].map(place);
  const low = [0, 1, 2].map((k) => Math.min(...pieces.map((p) => p.low[k])));
  const high = [0, 1, 2].map((k) => Math.max(...pieces.map((p) => p.high[k])));
  const middle = low.map((x, k) => (x + high[k]) / 2);
  const apart = spread(pieces, low, high);
  const made = pieces.map((p, n) => ({
    ...p, apart: apart[n], faces: filled(gl, p.at, p.normals), count: p.at.length / 3, rim: filled(gl, p.edges), rims: p.edges.length / 3,
  }));
  let matrix = identity();

  const moved = (p, look) => p.apart.map((x) => x * look.apart);
  // The eye stands so far off that a drum about all parts fits, however it is turned about its axis.
  function aim(look) {
    let bottom = Infinity, top = -Infinity, round = 0;
    for (const p of made) {
      const by = moved(p, look);
      bottom = Math.min(bottom, p.low[1] + by[1]);
      top = Math.max(top, p.high[1] + by[1]);
      for (const x of [p.low[0], p.high[0]]) for (const z of [p.low[2], p.high[2]]) round = Math.max(round, Math.hypot(x + by[0] - middle[0], z + by[2] - middle[2]));
    }
    const wide = canvas.width / canvas.height, open = Math.tan(0.24), half = (top - bottom) / 2;
    const up = half * Math.cos(look.tilt) + round * Math.abs(Math.sin(look.tilt));
    // its rim in front is nearest, hence drawn largest
    const front = Math.max(0, round * Math.cos(look.tilt) - half * Math.abs(Math.sin(look.tilt)));
    const far = Math.max(up / open + front, Math.hypot(round / (open * wide), round)) / look.zoom * 1.04;
    const reach = round + half;
    const near = Math.max(far - 2 * reach, far * 0.02), end = far + 2 * reach;
    const lens = [1 / (open * wide), 0, 0, 0, 0, 1 / open, 0, 0, 0, 0, (end + near) / (near - end), -1, 0, 0, 2 * end * near / (near - end), 0];
    const [s, c, p, q] = [Math.sin(look.turn), Math.cos(look.turn), Math.sin(look.tilt), Math.cos(look.tilt)];
    const turned = [c, p * s, -q * s, 0, 0, q, p, 0, s, -p * c, q * c, 0, 0, 0, 0, 1];
    const shift = identity();
    shift.splice(12, 3, -middle[0], -(top + bottom) / 2, -middle[2]);
    const back = identity();
    back[14] = -far;
    matrix = multiply(lens, multiply(back, multiply(turned, shift)));
    // from over the left shoulder, wherever one stands
    const l = [-0.45, 0.62, 0.64];
    return [0, 1, 2].map((k) => turned[4 * k] * l[0] + turned[4 * k + 1] * l[1] + turned[4 * k + 2] * l[2]);
  }

  // How far off the nearest corner of a piece's box is, as far as it is not cut away.
  function near(p, look) {
    const by = moved(p, look);
    let least = Infinity;
    for (let n = 0; n < 8; n++) {
      const at = [0, 1, 2].map((k) => (n >> k & 1 ? p.high[k] : p.low[k]));
      at[2] = Math.min(at[2], kept(look));
      least = Math.min(least, at.reduce((sum, x, k) => sum + matrix[4 * k + 3] * (x + by[k]), 0));
    }
    return least;
  }
  const kept = (look) => (look.cut <= 0 ? 1e9 : high[2] - look.cut * (high[2] - low[2]));

  function begin(look, back) {
    gl.viewport(0, 0, canvas.width, canvas.height);
    gl.clearColor(...back, 1);
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    gl.depthMask(true);
    gl.useProgram(program);
    gl.uniform3fv(light, aim(look));
    gl.uniformMatrix4fv(view, false, matrix);
    gl.uniform1f(cut, kept(look));
  }

  function faces(p, look, told) {
    gl.uniform4fv(paint, told);
    gl.uniform3fv(move, moved(p, look));
    gl.bindVertexArray(p.faces);
    gl.drawArrays(gl.TRIANGLES, 0, p.count);
  }

  function rim(p, look, told) {
    gl.uniform1i(kind, 1);
    gl.uniform4fv(paint, told);
    gl.uniform3fv(move, moved(p, look));
    gl.bindVertexArray(p.rim);
    gl.drawArrays(gl.LINES, 0, p.rims);
    gl.uniform1i(kind, 0);
  }

  return {
    // `colours` = {back, ink, mark, night}, each [r, g, b] of 0 to 1; night null but in an ant room at night
    draw(look, colours) {
      begin(look, colours.back);
      gl.uniform1i(kind, 0);
      gl.uniform1f(lines, 5 * (canvas.width / Math.max(1, canvas.clientWidth)));
      gl.uniform3fv(night, colours.night ?? [-1, -1, -1]);
      gl.enable(gl.POLYGON_OFFSET_FILL);
      gl.polygonOffset(1, 1);
      const tint = (p) => p.group === look.chosen ? [...p.colour.slice(0, 3).map((x, k) => 0.45 * x + 0.55 * colours.mark[k] ** 2.2), p.colour[3]] : p.colour;
      for (const p of made) if (!p.clear) { faces(p, look, tint(p)); rim(p, look, [...colours.ink, 1]); }
      gl.enable(gl.BLEND);
      gl.blendFunc(gl.SRC_ALPHA, gl.ONE_MINUS_SRC_ALPHA);
      gl.depthMask(false);
      // what holds another comes after it; of each only the side that is nearest is seen
      for (const p of made.filter((one) => one.clear).sort((a, b) => near(b, look) - near(a, look))) {
        rim(p, look, [...colours.ink, 0.75]);
        gl.depthMask(true);
        gl.colorMask(false, false, false, false);
        faces(p, look, tint(p));
        gl.colorMask(true, true, true, true);
        gl.depthMask(false);
        faces(p, look, tint(p));
      }
      gl.disable(gl.DEPTH_TEST);  // the chosen part is seen through all others
      for (const p of made) if (p.group === look.chosen) rim(p, look, [...colours.mark, 1]);
      gl.disable(gl.BLEND);
    },
    // Group of the part under a point of the canvas, 0 to 1 from left and top; -1 for none.
    pick(look, x, y) {
      const plate = gl.createFramebuffer(), [mark, depth] = [gl.createRenderbuffer(), gl.createRenderbuffer()];
      gl.bindFramebuffer(gl.FRAMEBUFFER, plate);
      for (const [one, form, spot] of [[mark, gl.RGBA8, gl.COLOR_ATTACHMENT0], [depth, gl.DEPTH_COMPONENT16, gl.DEPTH_ATTACHMENT]]) {
        gl.bindRenderbuffer(gl.RENDERBUFFER, one);
        gl.renderbufferStorage(gl.RENDERBUFFER, form, canvas.width, canvas.height);
        gl.framebufferRenderbuffer(gl.FRAMEBUFFER, spot, gl.RENDERBUFFER, one);
      }
      begin(look, [0, 0, 0]);
      gl.uniform1i(kind, 2);
      for (const p of made) faces(p, look, [((p.group + 1) & 255) / 255, ((p.group + 1) >> 8) / 255, 0, 1]);
      const seen = new Uint8Array(4);
      gl.readPixels(Math.floor(x * canvas.width), Math.floor((1 - y) * canvas.height), 1, 1, gl.RGBA, gl.UNSIGNED_BYTE, seen);
      gl.bindFramebuffer(gl.FRAMEBUFFER, null);
      gl.deleteFramebuffer(plate);
      gl.deleteRenderbuffer(mark);
      gl.deleteRenderbuffer(depth);
      return seen[0] + 256 * seen[1] - 1;
    },
  };
}

// How each piece moves when all are drawn fully apart: up, over what it stands on or in; and a little away from the middle.
function spread(pieces, low, high) {
  const size = high.map((x, k) => x - low[k]), gap = 0.05 * Math.hypot(...size);
  const moves = pieces.map((p) => [0, 2].map((k) => 0.4 * ((p.low[k] + p.high[k] - low[k] - high[k]) / 2)));
  const lifts = pieces.map(() => 0), done = [];
  const span = (p, q, k) => Math.max(0, Math.min(p.high[k], q.high[k]) - Math.max(p.low[k], q.low[k]));
  const area = (p) => (p.high[0] - p.low[0]) * (p.high[2] - p.low[2]);
  const order = pieces.map((_, n) => n).sort((a, b) => pieces[a].low[1] - pieces[b].low[1] || area(pieces[b]) - area(pieces[a]));
  for (const n of order) {
    const p = pieces[n];
    for (const m of done) {
      const q = pieces[m];
      if (p.group === q.group && p.low.every((x, k) => Math.abs(x - q.low[k]) < 1e-9)) { lifts[n] = Math.max(lifts[n], lifts[m]); continue; }
      if (span(p, q, 0) * span(p, q, 2) < 0.15 * Math.min(area(p), area(q))) continue;
      // what is set into another's side goes with it
      const aside = [0, 2].some((k) => Math.abs(p.low[k] + p.high[k] - q.low[k] - q.high[k]) > 0.84 * (q.high[k] - q.low[k]));
      const within = aside && p.high[1] <= q.high[1] + 1e-9;
      lifts[n] = Math.max(lifts[n], lifts[m] + (within ? 0 : q.high[1] - p.low[1] + gap));
    }
    done.push(n);
  }
  return pieces.map((_, n) => [moves[n][0], lifts[n], moves[n][1]]);
}

function filled(gl, ...columns) {
  const made = gl.createVertexArray();
  gl.bindVertexArray(made);
  columns.forEach((column, n) => {
    gl.bindBuffer(gl.ARRAY_BUFFER, gl.createBuffer());
    gl.bufferData(gl.ARRAY_BUFFER, column, gl.STATIC_DRAW);
    gl.enableVertexAttribArray(n);
    gl.vertexAttribPointer(n, 3, gl.FLOAT, false, 0, 0);
  });
  return made;
}

function linked(gl) {
  const program = gl.createProgram();
  for (const [kind, text] of [[gl.VERTEX_SHADER, VERTEX], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
    const shader = gl.createShader(kind);
    gl.shaderSource(shader, text);
    gl.compileShader(shader);
    gl.attachShader(program, shader);
  }
  gl.linkProgram(program);
  if (!gl.getProgramParameter(program, gl.LINK_STATUS)) throw new Error(gl.getProgramInfoLog(program));
  return program;
}

// ---- Matrices, by columns as in glTF ----

const identity = () => [1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1, 0, 0, 0, 0, 1];
const multiply = (a, b) => identity().map((_, n) => [0, 1, 2, 3].reduce((sum, k) => sum + a[4 * k + n % 4] * b[4 * Math.floor(n / 4) + k], 0));
const determinant = (m) => m[0] * (m[5] * m[10] - m[6] * m[9]) - m[4] * (m[1] * m[10] - m[2] * m[9]) + m[8] * (m[1] * m[6] - m[2] * m[5]);

function fromParts({ translation: t = [0, 0, 0], rotation: [x, y, z, w] = [0, 0, 0, 1], scale: s = [1, 1, 1] }) {
  return [
    (1 - 2 * (y * y + z * z)) * s[0], 2 * (x * y + z * w) * s[0], 2 * (x * z - y * w) * s[0], 0,
    2 * (x * y - z * w) * s[1], (1 - 2 * (x * x + z * z)) * s[1], 2 * (y * z + x * w) * s[1], 0,
    2 * (x * z + y * w) * s[2], 2 * (y * z - x * w) * s[2], (1 - 2 * (x * x + y * y)) * s[2], 0,
    ...t, 1,
  ];
}
