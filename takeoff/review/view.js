// The 3-D view: one mesh a piece mark, drawn once for every placement of it (WebGL 2, parallel projection).
// Bits of a part's state byte: 1 held, 2 selected, 4 hidden.

const HELD = 1, SELECTED = 2, HIDDEN = 4;

class View {
  constructor(canvas, data) {
    this.canvas = canvas;
    this.placements = decode(data.placements, Float32Array);
    this.bolts = decode(data.bolts, Float32Array);
    this.parts = this.placements.length / 9;
    this.boltCount = this.bolts.length / 7;
    this.states = new Uint8Array(this.parts);
    this.boltStates = new Uint8Array(this.boltCount);
    this.turn = { yaw: -0.6, pitch: 0.35 };
    this.target = [0, 0, 0];
    this.scale = 1;
    this.dim = false;
    this.showBolts = true;
    this.slow = false;
    this.onpick = () => {};
    this.measure(data);
    this.low = this.box.slice(0, 3);
    this.high = this.box.slice(3);
    const gl = this.gl = canvas.getContext('webgl2', { antialias: true, alpha: false, preserveDrawingBuffer: true });
    if (!gl) return;
    this.build(data);
    this.listen();
    new ResizeObserver(() => this.draw()).observe(canvas);
    canvas.addEventListener('webglcontextlost', event => { event.preventDefault(); this.gl = null; });
    canvas.addEventListener('webglcontextrestored', () => { this.gl = gl; this.build(data); this.upload(); });
  }

  // The box of every part, from its mesh's box and its placement.
  measure(data) {
    const points = decode(data.batches.points, Float32Array), P = this.placements;
    this.boxes = new Float32Array(this.parts * 6);
    const all = [Infinity, Infinity, Infinity, -Infinity, -Infinity, -Infinity];
    let at = 0;
    for (const [, first, count, size] of data.batches.rows) {
      const lo = [Infinity, Infinity, Infinity], hi = [-Infinity, -Infinity, -Infinity];
      for (let k = at; k < at + size; k++) for (let c = 0; c < 3; c++) {
        lo[c] = Math.min(lo[c], points[3 * k + c]); hi[c] = Math.max(hi[c], points[3 * k + c]);
      }
      at += size;
      for (let n = first; n < first + count; n++) {
        const o = 9 * n, ax = P.subarray(o + 3, o + 6), au = P.subarray(o + 6, o + 9);
        const av = [ax[1] * au[2] - ax[2] * au[1], ax[2] * au[0] - ax[0] * au[2], ax[0] * au[1] - ax[1] * au[0]];
        for (let c = 0; c < 3; c++) {
          let near = P[o + c], far = P[o + c];
          [ax[c], au[c], av[c]].forEach((f, k) => {
            near += Math.min(f * lo[k], f * hi[k]); far += Math.max(f * lo[k], f * hi[k]);
          });
          this.boxes[6 * n + c] = near; this.boxes[6 * n + 3 + c] = far;
          all[c] = Math.min(all[c], near); all[3 + c] = Math.max(all[3 + c], far);
        }
      }
    }
    for (let n = 0; n < this.boltCount; n++) for (let c = 0; c < 3; c++) {
      const d = 2 * this.bolts[7 * n + 6], a = this.bolts[7 * n + c], b = a + this.bolts[7 * n + 3 + c];
      all[c] = Math.min(all[c], a - d, b - d); all[3 + c] = Math.max(all[3 + c], a + d, b + d);
    }
    this.box = all[0] === Infinity ? [-1, -1, -1, 1, 1, 1] : all.map((v, k) => v + (k < 3 ? -1 : 1));
  }

  program(vertex) {
    const gl = this.gl, program = gl.createProgram();
    for (const [kind, text] of [[gl.VERTEX_SHADER, vertex], [gl.FRAGMENT_SHADER, FRAGMENT]]) {
      const shader = gl.createShader(kind);
      gl.shaderSource(shader, text);
      gl.compileShader(shader);
      gl.attachShader(program, shader);
    }
    gl.linkProgram(program);
    if (!gl.getProgramParameter(program, gl.LINK_STATUS) && !gl.isContextLost())
      throw new Error(gl.getProgramInfoLog(program) || 'a shader does not link');
    const places = {};
    for (const name of ['view', 'low', 'high', 'picking', 'base', 'dim', 'eye', 'paint', 'flatness'])
      places[name] = gl.getUniformLocation(program, name);
    return { program, places };
  }

  buffer(values, target = this.gl.ARRAY_BUFFER) {
    const gl = this.gl, made = gl.createBuffer();
    gl.bindBuffer(target, made);
    gl.bufferData(target, values, gl.STATIC_DRAW);
    return made;
  }

  // An array object: mesh points, then per-part floats and the state byte.
  array(points, width, indices, floats, stride, columns, states, first) {
    const gl = this.gl, array = gl.createVertexArray();
    gl.bindVertexArray(array);
    gl.bindBuffer(gl.ARRAY_BUFFER, points);
    gl.enableVertexAttribArray(0);
    gl.vertexAttribPointer(0, width, gl.FLOAT, false, 4 * width, 0);
    gl.bindBuffer(gl.ARRAY_BUFFER, floats);
    let offset = 0;
    columns.forEach((size, k) => {
      gl.enableVertexAttribArray(k + 1);
      gl.vertexAttribPointer(k + 1, size, gl.FLOAT, false, 4 * stride, 4 * (stride * first + offset));
      gl.vertexAttribDivisor(k + 1, 1);
      offset += size;
    });
    gl.bindBuffer(gl.ARRAY_BUFFER, states);
    gl.enableVertexAttribArray(4);
    gl.vertexAttribIPointer(4, 1, gl.UNSIGNED_BYTE, 1, first);
    gl.vertexAttribDivisor(4, 1);
    gl.bindBuffer(gl.ELEMENT_ARRAY_BUFFER, indices);
    gl.bindVertexArray(null);
    return array;
  }

  build(data) {
    const gl = this.gl;
    this.part = this.program(PART_VERTEX);
    this.bolt = this.program(BOLT_VERTEX);
    const points = this.buffer(decode(data.batches.points, Float32Array));
    gl.bindVertexArray(null);
    const triangles = this.buffer(decode(data.batches.triangles, Uint32Array), gl.ELEMENT_ARRAY_BUFFER);
    const edges = this.buffer(decode(data.batches.edges, Uint32Array), gl.ELEMENT_ARRAY_BUFFER);
    const places = this.buffer(this.placements);
    this.stateBuffer = this.buffer(this.states);
    this.boltStateBuffer = this.buffer(this.boltStates);
    const columns = [3, 3, 3];
    let t = 0, e = 0;
    this.batches = data.batches.rows.map(([piece, first, count, , triangleCount, edgeCount]) => {
      const make = (p, i) => this.array(p, 3, i, places, 9, columns, this.stateBuffer, first);
      const batch = { first, count, body: make(points, triangles), t, triangles: 3 * triangleCount,
        lines: make(points, edges), e, edges: 2 * edgeCount, holes: null, patches: 0, other: piece < 0 };
      t += 12 * triangleCount;
      e += 8 * edgeCount;
      const patches = piece < 0 ? null : holePatches(data.pieces[piece]);
      if (patches && patches.triangles.length) {
        batch.holes = make(this.buffer(patches.points), this.buffer(patches.triangles, gl.ELEMENT_ARRAY_BUFFER));
        batch.patches = patches.triangles.length;
      }
      return batch;
    });
    const mesh = boltMesh();
    this.boltIndices = mesh.triangles.length;
    this.boltArray = this.array(this.buffer(mesh.points), 4, this.buffer(mesh.triangles, gl.ELEMENT_ARRAY_BUFFER),
      this.buffer(this.bolts), 7, [3, 3, 1], this.boltStateBuffer, 0);
    this.pickTarget = null;
  }

  axes() {
    const { yaw, pitch } = this.turn, cy = Math.cos(yaw), sy = Math.sin(yaw), cp = Math.cos(pitch), sp = Math.sin(pitch);
    return { right: [cy, sy, 0], up: [sy * sp, -cy * sp, cp], eye: [sy * cp, -cy * cp, sp] };
  }

  matrix() {
    const { right, up, eye } = this.axes(), w = this.canvas.clientWidth || 1, h = this.canvas.clientHeight || 1;
    const deep = Math.hypot(this.box[3] - this.box[0], this.box[4] - this.box[1], this.box[5] - this.box[2]) + 1;
    const dot = a => a[0] * this.target[0] + a[1] * this.target[1] + a[2] * this.target[2];
    const sx = 2 * this.scale / w, sy = 2 * this.scale / h, sz = -1 / deep;
    return new Float32Array([right[0] * sx, up[0] * sy, eye[0] * sz, 0, right[1] * sx, up[1] * sy, eye[1] * sz, 0,
      right[2] * sx, up[2] * sy, eye[2] * sz, 0, -dot(right) * sx, -dot(up) * sy, -dot(eye) * sz, 1]);
  }

  upload() {
    const gl = this.gl;
    if (!gl) return;
    gl.bindBuffer(gl.ARRAY_BUFFER, this.stateBuffer);
    gl.bufferSubData(gl.ARRAY_BUFFER, 0, this.states);
    gl.bindBuffer(gl.ARRAY_BUFFER, this.boltStateBuffer);
    gl.bufferSubData(gl.ARRAY_BUFFER, 0, this.boltStates);
    this.draw();
  }

  draw() {
    if (this.waiting || !this.gl) return;
    this.waiting = true;
    requestAnimationFrame(() => { this.waiting = false; this.render(); });
  }

  render() {
    const gl = this.gl, canvas = this.canvas;
    if (!gl) return;
    const ratio = window.devicePixelRatio || 1;
    const w = Math.max(1, Math.round(canvas.clientWidth * ratio)), h = Math.max(1, Math.round(canvas.clientHeight * ratio));
    if (canvas.width !== w || canvas.height !== h) { canvas.width = w; canvas.height = h; }
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    gl.viewport(0, 0, w, h);
    gl.clearColor(1, 1, 1, 1);
    this.paint(false);
  }

  paint(picking) {
    const gl = this.gl;
    gl.clear(gl.COLOR_BUFFER_BIT | gl.DEPTH_BUFFER_BIT);
    gl.enable(gl.DEPTH_TEST);
    gl.depthFunc(gl.LEQUAL);
    const view = this.matrix(), { eye } = this.axes();
    const start = ({ program, places }) => {
      gl.useProgram(program);
      gl.uniformMatrix4fv(places.view, false, view);
      gl.uniform3fv(places.low, this.low);
      gl.uniform3fv(places.high, this.high);
      gl.uniform3fv(places.eye, eye);
      gl.uniform1i(places.picking, picking ? 1 : 0);
      gl.uniform1i(places.dim, this.dim ? 1 : 0);
      gl.uniform1f(places.flatness, 0);
      return places;
    };
    let u = start(this.part);
    gl.enable(gl.POLYGON_OFFSET_FILL);
    gl.polygonOffset(1, 1);
    for (const b of this.batches) {
      gl.uniform3fv(u.paint, b.other ? [0.93, 0.93, 0.9] : [0.72, 0.74, 0.75]);
      gl.uniform1ui(u.base, b.first);
      gl.bindVertexArray(b.body);
      gl.drawElementsInstanced(gl.TRIANGLES, b.triangles, gl.UNSIGNED_INT, b.t, b.count);
    }
    if (!picking) {
      gl.uniform1f(u.flatness, 1);
      gl.polygonOffset(-1, -1);
      gl.uniform3fv(u.paint, [0.1, 0.1, 0.1]);
      for (const b of this.batches) if (b.holes) {
        gl.bindVertexArray(b.holes);
        gl.drawElementsInstanced(gl.TRIANGLES, b.patches, gl.UNSIGNED_INT, 0, b.count);
      }
      // Edges are a pixel wide at any zoom: far off they would drown the steel, so they fade into it.
      const near = Math.min(1, this.scale / 0.3), shade = 0.66 - 0.42 * near;
      gl.uniform3fv(u.paint, [shade, shade, shade + 0.02]);
      if (!(this.moving && this.slow)) for (const b of this.batches) {
        gl.bindVertexArray(b.lines);
        gl.drawElementsInstanced(gl.LINES, b.edges, gl.UNSIGNED_INT, b.e, b.count);
      }
    }
    gl.disable(gl.POLYGON_OFFSET_FILL);
    if (this.showBolts && this.boltCount && !(this.moving && this.slow)) {
      u = start(this.bolt);
      gl.uniform3fv(u.paint, [0.36, 0.36, 0.38]);
      gl.uniform1ui(u.base, this.parts);
      gl.bindVertexArray(this.boltArray);
      gl.drawElementsInstanced(gl.TRIANGLES, this.boltIndices, gl.UNSIGNED_SHORT, 0, this.boltCount);
    }
    gl.bindVertexArray(null);
  }

  // What is under a point of the canvas: {part} or {bolt}, or null.
  pick(x, y) {
    const gl = this.gl;
    if (!gl) return null;
    const w = this.canvas.width, h = this.canvas.height;
    if (!this.pickTarget || this.pickTarget.w !== w || this.pickTarget.h !== h) {
      const frame = gl.createFramebuffer(), colour = gl.createRenderbuffer(), depth = gl.createRenderbuffer();
      gl.bindRenderbuffer(gl.RENDERBUFFER, colour);
      gl.renderbufferStorage(gl.RENDERBUFFER, gl.RGBA8, w, h);
      gl.bindRenderbuffer(gl.RENDERBUFFER, depth);
      gl.renderbufferStorage(gl.RENDERBUFFER, gl.DEPTH_COMPONENT24, w, h);
      gl.bindFramebuffer(gl.FRAMEBUFFER, frame);
      gl.framebufferRenderbuffer(gl.FRAMEBUFFER, gl.COLOR_ATTACHMENT0, gl.RENDERBUFFER, colour);
      gl.framebufferRenderbuffer(gl.FRAMEBUFFER, gl.DEPTH_ATTACHMENT, gl.RENDERBUFFER, depth);
      this.pickTarget = { frame, w, h };
    }
    // A few pixels round the pointer: thin legs seen on edge are hard to hit.
    const ratio = w / (this.canvas.clientWidth || 1), r = Math.round(3 * ratio), side = 2 * r + 1;
    const px = Math.round(x * ratio), py = h - 1 - Math.round(y * ratio), pixels = new Uint8Array(4 * side * side);
    gl.bindFramebuffer(gl.FRAMEBUFFER, this.pickTarget.frame);
    gl.viewport(0, 0, w, h);
    gl.enable(gl.SCISSOR_TEST);
    gl.scissor(px - r, py - r, side, side);
    gl.clearColor(0, 0, 0, 0);
    this.paint(true);
    gl.disable(gl.SCISSOR_TEST);
    gl.readPixels(px - r, py - r, side, side, gl.RGBA, gl.UNSIGNED_BYTE, pixels);
    gl.bindFramebuffer(gl.FRAMEBUFFER, null);
    let best = null, near = Infinity;
    for (let k = 0; k < side * side; k++) {
      const id = (pixels[4 * k] | pixels[4 * k + 1] << 8 | pixels[4 * k + 2] << 16 | pixels[4 * k + 3] << 24) >>> 0;
      const off = Math.hypot(k % side - r, Math.floor(k / side) - r);
      if (id && off < near) { near = off; best = id - 1; }
    }
    this.draw();
    return best === null ? null : best < this.parts ? { part: best } : { bolt: best - this.parts };
  }

  fit(box = this.box) {
    const { right, up } = this.axes(), half = [0, 1, 2].map(c => (box[3 + c] - box[c]) / 2);
    this.target = [0, 1, 2].map(c => (box[3 + c] + box[c]) / 2);
    const reach = a => Math.abs(a[0]) * half[0] + Math.abs(a[1]) * half[1] + Math.abs(a[2]) * half[2] + 1;
    this.scale = 0.92 * Math.min((this.canvas.clientWidth || 1) / 2 / reach(right), (this.canvas.clientHeight || 1) / 2 / reach(up));
    this.draw();
  }

  // The box round the parts and bolts with all the given bits; null when there are none.
  boxOf(bits) {
    const all = [Infinity, Infinity, Infinity, -Infinity, -Infinity, -Infinity];
    const take = (c, a, b) => { all[c] = Math.min(all[c], a); all[3 + c] = Math.max(all[3 + c], b); };
    for (let n = 0; n < this.parts; n++) if ((this.states[n] & bits) === bits)
      for (let c = 0; c < 3; c++) take(c, this.boxes[6 * n + c], this.boxes[6 * n + 3 + c]);
    for (let n = 0; n < this.boltCount; n++) if ((this.boltStates[n] & bits) === bits)
      for (let c = 0; c < 3; c++) take(c, this.bolts[7 * n + c] - 60, this.bolts[7 * n + c] + 60);
    return all[0] === Infinity ? null : all;
  }

  orbit(dx, dy) {
    this.turn.yaw -= dx;
    this.turn.pitch = Math.max(-Math.PI / 2, Math.min(Math.PI / 2, this.turn.pitch + dy));
    this.draw();
  }

  pan(dx, dy) {
    const { right, up } = this.axes();
    for (let c = 0; c < 3; c++) this.target[c] += (-dx * right[c] + dy * up[c]) / this.scale;
    this.draw();
  }

  zoom(factor, x = (this.canvas.clientWidth || 1) / 2, y = (this.canvas.clientHeight || 1) / 2) {
    const dx = x - this.canvas.clientWidth / 2, dy = y - this.canvas.clientHeight / 2;
    this.pan(-dx, -dy);
    this.scale = Math.max(1e-6, Math.min(1e3, this.scale * factor));
    this.pan(dx, dy);
  }

  look(yaw, pitch) { this.turn = { yaw, pitch }; this.fit(); }

  listen() {
    const canvas = this.canvas, held = new Map();
    let moved = 0, frames = 0, began = 0;
    const at = event => { const r = canvas.getBoundingClientRect(); return [event.clientX - r.left, event.clientY - r.top]; };
    const stop = () => { this.moving = false; this.draw(); };
    canvas.addEventListener('contextmenu', event => event.preventDefault());
    canvas.addEventListener('pointerdown', event => {
      canvas.setPointerCapture(event.pointerId);
      held.set(event.pointerId, at(event));
      moved = 0; frames = 0; began = performance.now();
    });
    canvas.addEventListener('pointermove', event => {
      const before = held.get(event.pointerId);
      if (!before) return;
      const now = at(event), dx = now[0] - before[0], dy = now[1] - before[1];
      moved += Math.abs(dx) + Math.abs(dy);
      if (moved < 4) return;
      if (!this.moving) {
        this.moving = true;
        const tick = () => {
          frames++;
          // Fewer than 15 pictures a second: bolts and edges rest while the model moves.
          if (performance.now() - began > 500 && frames < 7) this.slow = true;
          if (performance.now() - began > 500) { frames = 0; began = performance.now(); }
          if (this.moving) requestAnimationFrame(tick);
        };
        began = performance.now(); frames = 0;
        requestAnimationFrame(tick);
      }
      if (held.size === 2) {
        const other = [...held].find(([id]) => id !== event.pointerId)[1];
        const was = Math.hypot(before[0] - other[0], before[1] - other[1]), is = Math.hypot(now[0] - other[0], now[1] - other[1]);
        if (was > 5) this.zoom(is / was, (now[0] + other[0]) / 2, (now[1] + other[1]) / 2);
        this.pan(dx / 2, dy / 2);
      } else if (event.shiftKey || event.buttons & 6) this.pan(dx, dy);
      else this.orbit(dx * 0.008, dy * 0.008);
      held.set(event.pointerId, now);
    });
    const up = event => {
      if (held.has(event.pointerId) && event.type === 'pointerup' && moved < 4 && event.button === 0) {
        const [x, y] = at(event);
        this.onpick(this.pick(x, y), event.shiftKey || event.ctrlKey);
      }
      held.delete(event.pointerId);
      if (!held.size) stop();
    };
    canvas.addEventListener('pointerup', up);
    canvas.addEventListener('pointercancel', up);
    canvas.addEventListener('wheel', event => {
      event.preventDefault();
      const [x, y] = at(event);
      this.zoom(Math.exp(-event.deltaY * (event.deltaMode ? 0.04 : 0.0012)), x, y);
    }, { passive: false });
    canvas.addEventListener('keydown', event => {
      const step = { ArrowLeft: [-1, 0], ArrowRight: [1, 0], ArrowUp: [0, -1], ArrowDown: [0, 1] }[event.key];
      if (step && event.shiftKey) this.pan(step[0] * 40, step[1] * 40);
      else if (step) this.orbit(step[0] * 0.12, step[1] * 0.12);
      else if (event.key === '+' || event.key === '=') this.zoom(1.25);
      else if (event.key === '-') this.zoom(0.8);
      else if (event.key === 'f' || event.key === 'F') this.fit(this.boxOf(SELECTED) || this.box);
      else if (event.key === 'Escape') this.onpick(null, false);
      else return;
      event.preventDefault();
    });
  }
}
