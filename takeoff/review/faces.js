// A piece's faces unfolded, seen from outside, x to the right: an SVG drawn from outlines and holes.

const SVG = 'http://www.w3.org/2000/svg';

function svg(name, attributes, text) {
  const made = document.createElementNS(SVG, name);
  for (const key in attributes) made.setAttribute(key, attributes[key]);
  if (text !== undefined) made.textContent = text;
  return made;
}

// Whole or half millimetres where that is what they are, else one decimal.
function mm(value) {
  const half = Math.round(value * 2) / 2;
  const text = (Math.abs(value - half) <= 0.05 ? half : value).toFixed(1);
  return text.replace(/\.0$/, '').replace(/^-0$/, '0');
}

// Places as near to the wanted ones as a gap between neighbours allows; wanted is sorted.
function spread(wanted, gap, low, high) {
  const at = wanted.slice();
  for (let k = 0; k < at.length; k++) at[k] = Math.max(at[k], k ? at[k - 1] + gap : low);
  for (let k = at.length - 1; k >= 0; k--) at[k] = Math.min(at[k], k < at.length - 1 ? at[k + 1] - gap : high);
  return at;
}

function distinct(values, within) {
  const sorted = values.slice().sort((a, b) => a - b), kept = [];
  for (const value of sorted) if (!kept.length || value - kept[kept.length - 1] > within) kept.push(value);
  return kept;
}

// A scale along the piece that keeps groups of holes and ends in true shape and shortens long plain stretches.
function shortened(stops, scale, room) {
  const gaps = stops.slice(1).map((stop, k) => (stop - stops[k]) * scale);
  const total = limit => gaps.reduce((sum, gap) => sum + Math.min(gap, limit), 0);
  let low = 0, high = Math.max(...gaps);
  if (total(high) > room) for (let k = 0; k < 50; k++) {
    const middle = (low + high) / 2;
    if (total(middle) > room) high = middle; else low = middle;
  }
  const starts = [0], breaks = [];
  gaps.forEach((gap, k) => {
    starts.push(starts[k] + Math.min(gap, high));
    if (gap > high * 1.001) breaks.push(starts[k] + high / 2);
  });
  const at = x => {
    let k = 0;
    while (k < gaps.length - 1 && x > stops[k + 1]) k++;
    const size = stops[k + 1] - stops[k];
    return starts[k] + (size > 0 ? (x - stops[k]) / size * (starts[k + 1] - starts[k]) : 0);
  };
  return { at, breaks };
}

function drawPiece(piece, room) {
  const left = 64, right = 58, /* pixels */ top = 14, gap = piece.shape === 'angle' ? 0 : 16;
  const faces = piece.faces;
  if (!faces.length || !(piece.length > 0)) return null;
  const known = new Set(faces.map(face => face.name));
  const holes = piece.holes.filter(hole => known.has(hole[1]));
  const stops = distinct(holes.map(hole => hole[2]), 0.05).filter(x => Math.abs(x - piece.length) > 0.05);
  const dimensions = [...stops, piece.length];
  const tall = faces.reduce((sum, face) => sum + face.high - face.low, 0);
  const width = Math.max(room, left + right + 12 * dimensions.length);
  const across = Math.min(Math.max((width - left - right) / piece.length, 100 / tall), 360 / tall);
  const ends = faces.flatMap(face => (face.outline || []).filter((_, k) => k % 2 === 0));
  const scale = shortened(distinct([0, ...ends, ...stops, piece.length], 0.05), across, width - left - right);
  const X = x => left + scale.at(x);

  const strips = new Map();
  let y = top;
  for (const face of faces) {
    const start = y;
    strips.set(face.name, {
      face, start, end: start + (face.high - face.low) * across,
      Y: face.up > 0 ? a => start + (face.high - a) * across : a => start + (a - face.low) * across,
    });
    y += (face.high - face.low) * across + gap;
  }
  const bottom = y - gap, texts = 44, height = bottom + 24 + texts;
  const picture = svg('svg', { width, height, viewBox: `0 0 ${width} ${height}`, role: 'img', 'font-family': 'system-ui, sans-serif' });
  picture.append(svg('title', {}, `${piece.mark}: faces seen from outside, ${piece.holes.length} holes, length ${mm(piece.length)} mm`));

  for (const { face, Y, start, end } of strips.values()) {
    const points = face.outline || [0, face.low, piece.length, face.low, piece.length, face.high, 0, face.high];
    let path = '';
    for (let k = 0; k < points.length; k += 2) path += `${X(points[k]).toFixed(1)},${Y(points[k + 1]).toFixed(1)} `;
    picture.append(svg('polygon', { points: path.trim(), fill: '#f3f3f1', stroke: '#111', 'stroke-width': 1 }));
    const name = piece.shape === 'angle' ? `leg ${face.name}` : face.name;
    picture.append(svg('text', { x: left - 8, y: (start + end) / 2 + 4, 'text-anchor': 'end', 'font-size': 12 }, name));
    const own = holes.filter(hole => hole[1] === face.name);
    const gauges = distinct(own.map(hole => hole[3]), 0.25);
    const wanted = gauges.map(a => [Y(a), a]).sort((a, b) => a[0] - b[0]);
    const placed = spread(wanted.map(pair => pair[0]), 11, start + 4, Math.max(end - 2, start + 4 + 11 * wanted.length));
    if (gauges.length * 11 <= end - start + 16) wanted.forEach(([line, a], k) => {
      picture.append(svg('line', { x1: X(0) - 3, x2: width - right + 8, y1: line, y2: line, stroke: '#777', 'stroke-width': 0.6, 'stroke-dasharray': '9 3 2 3' }));
      picture.append(svg('line', { x1: width - right + 8, x2: width - right + 16, y1: line, y2: placed[k], stroke: '#777', 'stroke-width': 0.6 }));
      picture.append(svg('text', { x: width - right + 19, y: placed[k] + 4, 'font-size': 11 }, mm(a)));
    });
  }
  if (piece.shape === 'angle' && strips.has('A')) {
    const line = strips.get('A').Y(0), outline = strips.get('A').face.outline || [0, 0, piece.length, 0];
    const there = outline.filter((x, k) => k % 2 === 0 && Math.abs(outline[k + 1]) <= 0.05);
    if (there.length) picture.append(svg('line', { x1: X(Math.min(...there)), x2: X(Math.max(...there)), y1: line, y2: line, stroke: '#111', 'stroke-width': 2.6 }));
    picture.append(svg('text', { x: left - 8, y: line + 4, 'text-anchor': 'end', 'font-size': 11, 'font-weight': 700 }, 'heel'));
  }
  for (const at of scale.breaks.map(place => left + place)) {
    const zigzag = shift => `${at + shift - 3},${top - 5} ${at + shift + 3},${top + (bottom - top) * 0.35} ${at + shift - 3},${top + (bottom - top) * 0.65} ${at + shift + 3},${bottom + 5}`;
    picture.append(svg('polygon', { points: `${zigzag(-2)} ${zigzag(2).split(' ').reverse().join(' ')}`, fill: '#fff' }));
    for (const shift of [-2, 2]) picture.append(svg('polyline', { points: zigzag(shift), fill: 'none', stroke: '#777', 'stroke-width': 0.8 }));
  }
  const lowest = new Map();
  for (const [label, name, x, a, diameter, slot, angle, wide, , bolt, , kind] of holes) {
    const { face, Y } = strips.get(name), cx = X(x), cy = Y(a);
    const size = Math.max(diameter * across, 4), long = Math.max(slot * across, size);
    const shape = kind === 'rectangle'
      ? svg('rect', { x: -slot * across / 2, y: -(wide || diameter) * across / 2, width: Math.max(slot * across, 2), height: Math.max((wide || diameter) * across, 2) })
      : svg('rect', { x: -long / 2, y: -size / 2, width: long, height: size, rx: size / 2 });
    const hole = svg('g', { transform: `translate(${cx.toFixed(1)} ${cy.toFixed(1)}) rotate(${-face.up * angle})`, fill: kind === 'blind' ? '#ccc' : '#fff', stroke: '#111', 'stroke-width': 1.1 });
    hole.append(shape, svg('title', {}, `${label}: x ${mm(x)}, across ${mm(a)}, diameter ${mm(diameter)}${slot ? ', slot ' + mm(slot) : ''}${bolt ? ', ' + bolt : ''}`));
    if (kind === 'countersunk') hole.append(svg('circle', { r: size * 0.8, fill: 'none', stroke: '#111' }));
    picture.append(hole);
    lowest.set(x, Math.max(lowest.get(x) || 0, cy + size / 2));
    if (holes.length <= 60) picture.append(svg('text', { x: cx + size / 2 + 1.5, y: cy - size / 2 + 1, 'font-size': 9, fill: '#333' }, label));
  }
  const places = spread(dimensions.map(X), 12, left - 20, width - 12);
  dimensions.forEach((x, k) => {
    const line = [...lowest].reduce((far, [hole, end]) => Math.abs(hole - x) <= 0.05 ? Math.max(far, end) : far, 0) || bottom;
    picture.append(svg('path', { d: `M${X(x).toFixed(1)} ${line.toFixed(1)}V${bottom + 8}L${places[k].toFixed(1)} ${bottom + 20}`, fill: 'none', stroke: '#777', 'stroke-width': 0.6 }));
    picture.append(svg('text', { transform: `translate(${(places[k] + 4).toFixed(1)} ${bottom + 22 + texts - 4}) rotate(-90)`, 'font-size': 11, 'font-weight': k === dimensions.length - 1 ? 700 : 400 }, mm(x)));
  });
  return { picture, broken: scale.breaks.length > 0 };
}
