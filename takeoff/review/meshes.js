// Bytes of the page as arrays, and the meshes that are the same in every model: a bolt, a hole's patch.

function decode(text, Kind) {
  const raw = atob(text), bytes = new Uint8Array(raw.length);
  for (let i = 0; i < raw.length; i++) bytes[i] = raw.charCodeAt(i);
  return new Kind(bytes.buffer);
}

function boltMesh() {
  const points = [], triangles = [];
  const ring = (x, y, radius, turn) => {
    const first = points.length / 4;
    for (let k = 0; k < 6; k++) {
      const a = (k + turn) * Math.PI / 3;
      points.push(x, y, radius * Math.cos(a), radius * Math.sin(a));
    }
    return first;
  };
  const tube = (a, b) => {
    for (let k = 0; k < 6; k++) {
      const l = (k + 1) % 6;
      triangles.push(a + k, a + l, b + l, a + k, b + l, b + k);
    }
  };
  const lid = a => { for (let k = 1; k < 5; k++) triangles.push(a, a + k, a + k + 1); };
  tube(ring(0, 0, 0.5, 0), ring(1, 1.1, 0.5, 0));
  for (const [x, from, to] of [[0, -0.65, 0], [1, 0, 0.8]]) {
    const a = ring(x, from, 0.9, 0.5), b = ring(x, to, 0.9, 0.5);
    tube(a, b); lid(a); lid(b);
  }
  lid(6);
  return { points: new Float32Array(points), triangles: new Uint16Array(triangles) };
}

// The holes of a piece as thin patches on the outside and the inside of its walls.
function holePatches(piece) {
  const points = [], triangles = [];
  const walls = new Map(piece.faces.map(face => [face.name, face]));
  for (const [, name, x, across, diameter, slot, angle, width, , , , kind] of piece.holes) {
    const face = walls.get(name);
    if (!face) continue;
    const loop = [];
    if (kind === 'rectangle') {
      for (const [i, j] of [[-1, -1], [1, -1], [1, 1], [-1, 1]]) loop.push([i * slot / 2, j * (width || diameter) / 2]);
    } else {
      const half = Math.max(0, (slot - diameter) / 2);
      for (let k = 0; k < 12; k++) {
        const a = (k + 0.5) * Math.PI / 6;
        loop.push([Math.cos(a) * diameter / 2 + Math.sign(Math.cos(a)) * half, Math.sin(a) * diameter / 2]);
      }
    }
    const c = Math.cos(angle * Math.PI / 180), s = Math.sin(angle * Math.PI / 180);
    for (const depth of kind === 'blind' ? [0] : [0, face.thickness]) {
      const first = points.length / 3;
      for (const [i, j] of loop) {
        const px = x + c * i - s * j, pa = across + s * i + c * j;
        let u = face.origin[0] + pa * face.direction[0] + depth * face.inward[0];
        let v = face.origin[1] + pa * face.direction[1] + depth * face.inward[1];
        if (name === 'wall') {
          const r = -face.origin[0], w = pa / r;
          u = -(r - depth) * Math.cos(w); v = (r - depth) * Math.sin(w);
        }
        points.push(px, u, v);
      }
      for (let k = 1; k < loop.length - 1; k++) triangles.push(first, first + k, first + k + 1);
    }
  }
  return { points: new Float32Array(points), triangles: new Uint32Array(triangles) };
}
