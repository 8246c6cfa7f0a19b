// The page: selection, tables, queries. Text from the model is only ever set as text.

const DATA = JSON.parse(document.getElementById('data').textContent);
const one = (query, under = document) => under.querySelector(query);
const all = (query, under = document) => [...under.querySelectorAll(query)];
const column = (coded, row) => coded.texts[coded.rows[row]];
const counted = (n, word) => `${n} ${word}${n === 1 ? '' : 's'}`;

function element(name, attributes = {}, ...children) {
  const made = document.createElement(name);
  for (const key in attributes) {
    if (key === 'onclick') made.addEventListener('click', attributes[key]);
    else made.setAttribute(key, attributes[key]);
  }
  made.append(...children.filter(child => child !== null && child !== undefined));
  return made;
}

const button = (text, onclick, attributes = {}) => element('button', { type: 'button', onclick, ...attributes }, text);

function pairs(rows) {
  const list = element('dl');
  for (const [name, value] of rows)
    if (value !== '' && value !== null && value !== undefined) list.append(element('dt', {}, name), element('dd', {}, value));
  return list;
}

// A list of any length, two hundred rows at a time.
function fill(list, count, row) {
  list.replaceChildren();
  const more = () => {
    const start = list.children.length;
    for (let k = start; k < Math.min(start + 200, count); k++) list.append(row(k));
    if (list.children.length < count) {
      const next = element('li', {}, button(`Show more (${count - list.children.length} left)`, () => { next.remove(); more(); }));
      list.append(next);
    }
  };
  more();
}

// ---------------------------------------------------------------- the view

const canvas = one('#model');
const view = new View(canvas, DATA);
if (!view.gl) { one('#no-view').hidden = false; one('.hint').hidden = true; canvas.hidden = true; one('.stage').classList.add('empty'); }

const pieceOf = new Int32Array(view.parts);
for (const [piece, first, count] of DATA.batches.rows) pieceOf.fill(piece, first, first + count);
const boltOf = decode(DATA.boltOf, Uint32Array);
const boltsOf = new Map();
boltOf.forEach((fastener, bolt) => {
  if (boltsOf.has(fastener)) boltsOf.get(fastener).push(bolt); else boltsOf.set(fastener, [bolt]);
});
const byMark = new Map(DATA.pieces.map((piece, number) => [piece.mark, number]));
const members = DATA.members, fasteners = DATA.fasteners;
let chosen = { parts: new Set(), bolts: new Set() };
const show = { held: false, others: true };

function partsOf(number) {
  const { first, quantity } = DATA.pieces[number];
  return first < 0 ? [] : Array.from({ length: quantity }, (_, k) => first + k);
}

function refresh() {
  for (let n = 0; n < view.parts; n++) {
    const held = column(members.status, n) === 'held';
    const picked = chosen.parts.has(n);
    const hidden = !picked && ((show.held && !held) || (!show.others && pieceOf[n] < 0));
    view.states[n] = (held ? HELD : 0) | (picked ? SELECTED : 0) | (hidden ? HIDDEN : 0);
  }
  for (let n = 0; n < view.boltCount; n++) {
    const held = column(fasteners.status, boltOf[n]) === 'held';
    const picked = chosen.bolts.has(n);
    view.boltStates[n] = (held ? HELD : 0) | (picked ? SELECTED : 0) | (!picked && show.held && !held ? HIDDEN : 0);
  }
  view.dim = chosen.parts.size + chosen.bolts.size > 0;
  view.upload();
}

function choose(parts, bolts, ...says) {
  chosen = { parts: new Set(parts), bolts: new Set(bolts) };
  const marks = new Set([...chosen.parts].map(n => pieceOf[n]));
  for (const row of all('#pieces tbody tr')) row.classList.toggle('on', marks.has(+row.dataset.piece));
  one('#picked').replaceChildren(...(says.length ? says.filter(Boolean) : [element('p', {}, 'Nothing selected. Click a part, a mark or a query.')]));
  refresh();
}

// ---------------------------------------------------------------- what is selected

function place(part) {
  const at = view.placements.subarray(9 * part, 9 * part + 3);
  return DATA.centre.map((c, k) => (c + at[k]).toFixed(1)).join(', ');
}

function choosePart(part) {
  const piece = DATA.pieces[pieceOf[part]];
  const rows = [
    ['Piece mark', piece ? piece.mark : 'none'], ['Status', column(members.status, part)],
    ['GlobalId', element('span', { class: 'ids' }, members.ids[part])], ['Name', column(members.names, part)],
    ['Section', piece ? piece.section : ''], ['Grade', piece ? piece.grade : ''],
    ['Length', piece ? `${mm(piece.length)} mm` : ''], ['Assembly', column(members.assemblies, part)],
    ['Class', column(members.classes, part)], ['Origin in the model', `${place(part)} mm`],
    ['Reason', column(members.reasons, part)], ['Model', members.models.texts.length > 1 ? column(members.models, part) : ''],
  ];
  const says = [pairs(rows)];
  if (piece) says.push(element('p', {}, button(`All ${piece.quantity} of ${piece.mark}`, () => choosePiece(pieceOf[part]))));
  choose([part], [], ...says);
  showPiece(pieceOf[part]);
  scrollToRow(pieceOf[part]);
}

function chooseBolt(bolt) {
  const f = boltOf[bolt], same = boltsOf.get(f);
  const grip = Math.hypot(...view.bolts.subarray(7 * bolt + 3, 7 * bolt + 6));
  choose([], [bolt], pairs([
    ['Fastener', column(fasteners.kinds, f)], ['Status', column(fasteners.status, f)],
    ['GlobalId', element('span', { class: 'ids' }, fasteners.ids[f])], ['Name', column(fasteners.names, f)],
    ['Size', column(fasteners.sizes, f)], ['Grade', column(fasteners.grades, f)],
    ['Shown between the faces', `${mm(grip)} mm`], ['Place', column(fasteners.places, f)],
    ['Reason', column(fasteners.reasons, f)],
  ]), same.length > 1 ? element('p', {}, button(`All ${same.length} bolts of this fastener`, () =>
    choose([], same, element('p', {}, `${same.length} bolts of one fastener.`)))) : null);
}

function choosePiece(number, focus = false) {
  const piece = DATA.pieces[number];
  choose(partsOf(number), [], element('p', {}, element('b', {}, piece.mark), `: ${counted(piece.first < 0 ? 0 : piece.quantity, 'part')} highlighted`));
  showPiece(number);
  scrollToRow(number);
  if (focus) view.fit(view.boxOf(SELECTED) || view.box);
  history.replaceState(null, '', '#' + encodeURIComponent(piece.mark));
}

function scrollToRow(number) {
  const row = one(`#pieces tr[data-piece="${number}"]`);
  if (!row) return;
  // Within the table's own box only: the page stays where the reader has it.
  const box = one('.scroll'), above = row.offsetTop - 2 * row.offsetHeight, below = row.offsetTop + row.offsetHeight - box.clientHeight;
  if (box.scrollTop > above) box.scrollTop = above;
  else if (box.scrollTop < below) box.scrollTop = below;
}

function table(heads, rows, numeric) {
  const head = element('tr', {}, ...heads.map((name, k) => element('th', { scope: 'col', ...(numeric.includes(k) ? { class: 'n' } : {}) }, name)));
  return element('table', {}, element('thead', {}, head), element('tbody', {}, ...rows.map(row =>
    element('tr', {}, ...row.map((value, k) => element('td', numeric.includes(k) ? { class: 'n' } : {}, value))))));
}

function showPiece(number) {
  const box = one('#piece'), piece = DATA.pieces[number];
  box.replaceChildren();
  if (!piece) return;
  box.append(element('h2', {}, piece.mark, ' ', element('small', {}, `${counted(piece.quantity, 'piece')} · ${piece.section}${piece.grade ? ' · ' + piece.grade : ''} · ${mm(piece.length)} mm`)));
  if (piece.status === 'held') box.append(element('div', { class: 'hold' }, element('b', {}, 'HOLD'), ' ', piece.reasons.join(' ')));
  const hand = byMark.get(piece.hand);
  const rows = [
    ['Weight, net and gross', `${piece.net.toFixed(2)} and ${piece.gross.toFixed(2)} kg each`], ['Surface', `${piece.surface.toFixed(3)} m² each`],
    ['Finish', piece.finish], ['Opposite hand of', hand === undefined ? piece.hand : button(piece.hand, () => choosePiece(hand))],
    ['Marks in the model', piece.modelMarks.join(', ')], ['Sheet', piece.page ? element('a', { href: `cut-and-punch.pdf#page=${piece.page}` }, `page ${piece.page}`) : ''],
    ['Used in', piece.used.map(([mark, times, count]) => `${mark}${times > 1 ? ` (${times} of them)` : ''}: ${count}`).join('; ')],
  ];
  box.append(pairs(rows));
  const drawn = drawPiece(piece, Math.max(420, box.clientWidth - 4));
  if (drawn) {
    box.append(element('div', { class: 'drawing', tabindex: '0', role: 'group', 'aria-label': 'Faces seen from outside' }, drawn.picture));
    box.append(element('p', { class: 'code' }, `Faces seen from outside, x from the left end. ${drawn.broken ? 'To scale, but for the stretches shortened at the breaks.' : 'To scale.'}`));
  }
  for (const k of piece.queries) {
    const found = queryOf.get(k);
    if (found) box.append(element('p', {}, element('b', {}, `${found[0]}: `), `${found[1]} `, element('i', {}, found[2])));
  }
  const small = element('div', { class: 'small' });
  if (piece.holes.length) small.append(element('h3', {}, counted(piece.holes.length, 'hole')), table(
    ['Hole', 'Face', 'x', 'Gauge line', 'Across', 'Dia.', 'Slot', 'Angle', 'Bolt', 'Kind', 'Source'],
    piece.holes.map(([label, face, x, across, d, slot, angle, width, gauge, bolt, source, kind]) => [label, face, mm(x), gauge || '', mm(across),
      d ? mm(d) : '', slot ? mm(slot) + (width ? ` x ${mm(width)}` : '') : '', slot ? mm(angle) + '°' : '', bolt, kind, source]), [2, 3, 4, 5, 6, 7]));
  if (piece.cuts.length) small.append(element('h3', {}, counted(piece.cuts.length, 'cut')), table(
    ['End', 'Face', 'Kind', 'x', 'Across', 'Angle', 'Size'],
    piece.cuts.map(([end, face, kind, x, across, angle, size]) => [end, face, kind, mm(x), mm(across), angle ? mm(angle) + '°' : '', size ? mm(size) : '']), [3, 4, 5, 6]));
  box.append(small);
  const list = element('ul', { class: 'rows' });
  const parts = element('details', {}, element('summary', {}, counted(piece.quantity, 'part') + ' in the model'), list);
  parts.addEventListener('toggle', () => {
    if (parts.open && !list.children.length) fill(list, piece.quantity, k => element('li', {},
      button(members.ids[piece.first + k], () => choosePart(piece.first + k), { class: 'ids' }),
      ` ${column(members.names, piece.first + k)} ${column(members.assemblies, piece.first + k)}`));
  });
  if (piece.quantity && piece.first >= 0) box.append(parts);
}

// ---------------------------------------------------------------- queries and parts not shown

const queryOf = new Map();
for (const group of DATA.groups) for (const row of group.queries) queryOf.set(row[0], [group.severity, row[1], row[2]]);

function targets([, , , mark, parts, held]) {
  const bolts = held.flatMap(fastener => boltsOf.get(fastener) || []);
  if (parts.length || bolts.length || !byMark.has(mark)) return [parts, bolts];
  return [partsOf(byMark.get(mark)), []];
}

function chooseQueries(rows, text) {
  const found = rows.map(targets);
  const parts = found.flatMap(pair => pair[0]), bolts = found.flatMap(pair => pair[1]);
  const said = `${counted(new Set(parts).size, 'part')} and ${counted(new Set(bolts).size, 'bolt')} highlighted`;
  const unseen = [...new Set(rows.flatMap(row => row[6]))];
  choose(parts, bolts, element('p', {}, text), element('p', {}, said + (unseen.length ? `; not in the view: ` : ''),
    element('span', { class: 'ids' }, unseen.slice(0, 20).join(' ') + (unseen.length > 20 ? ` and ${unseen.length - 20} more` : ''))));
  const marks = new Set(rows.map(row => row[3]).filter(mark => byMark.has(mark)));
  showPiece(marks.size === 1 ? byMark.get([...marks][0]) : -1);
}

for (const group of all('details[data-group]')) {
  const { queries } = DATA.groups[+group.dataset.group], list = one('ul', group);
  one('.show', group).addEventListener('click', () => chooseQueries(queries, `${counted(queries.length, 'query').replace('querys', 'queries')}: ${queries[0][1]}`));
  group.addEventListener('toggle', () => {
    if (group.open && !list.children.length) fill(list, queries.length, k => {
      const row = queries[k];
      return element('li', {}, row[3] ? element('b', {}, row[3] + ' ') : null, button(row[1], () => chooseQueries([row], row[1])),
        row[2] === queries[0][2] ? null : element('i', {}, ` ${row[2]}`));
    });
  });
}

for (const group of all('details[data-absent]')) {
  const { rows } = DATA.absent[+group.dataset.absent], list = one('ul', group);
  group.addEventListener('toggle', () => {
    if (group.open && !list.children.length) fill(list, rows.length, k =>
      element('li', {}, element('span', { class: 'ids' }, rows[k][0]), ` ${rows[k][1]} ${rows[k][2]}`));
  });
}

// ---------------------------------------------------------------- the table of pieces

const rows = all('#pieces tbody tr');
rows.forEach(row => row.addEventListener('click', event => {
  if (!event.target.closest('a')) choosePiece(+row.dataset.piece);
}));
rows.forEach(row => row.addEventListener('dblclick', () => choosePiece(+row.dataset.piece, true)));

let texts = null;
function filter() {
  const words = one('#find').value.toLowerCase().split(/\s+/).filter(Boolean), status = one('#status').value;
  // GlobalIds and the model's marks are looked through too, put together once, when first needed.
  if (words.length && !texts) texts = DATA.pieces.map(piece => [piece.mark, piece.section, piece.grade, piece.shape,
    piece.hand, mm(piece.length), ...piece.modelMarks, ...partsOf(byMark.get(piece.mark)).map(n => members.ids[n])].join(' ').toLowerCase());
  let found = 0;
  for (const row of rows) {
    const number = +row.dataset.piece;
    const good = (!status || DATA.pieces[number].status === status) && words.every(word => texts[number].includes(word));
    row.hidden = !good;
    found += good;
  }
  one('#found').textContent = found === rows.length ? '' : `${found} of ${rows.length}`;
}
one('#find').addEventListener('input', filter);
one('#status').addEventListener('change', filter);

all('#pieces thead th').forEach((head, index) => one('button', head).addEventListener('click', () => {
  const up = head.getAttribute('aria-sort') !== 'ascending';
  all('#pieces thead th').forEach(other => other.removeAttribute('aria-sort'));
  head.setAttribute('aria-sort', up ? 'ascending' : 'descending');
  const value = row => row.cells[index].dataset.v;
  const order = head.dataset.sort === 'n' ? (a, b) => value(a) - value(b) : (a, b) => value(a).localeCompare(value(b), 'en', { numeric: true });
  rows.sort((a, b) => (up ? 1 : -1) * order(a, b) || a.dataset.piece - b.dataset.piece);
  one('#pieces tbody').append(...rows);
}));

// ---------------------------------------------------------------- tools and tabs

const tools = {
  fit: () => view.fit(),
  focus: () => view.fit(view.boxOf(SELECTED) || view.box),
  front: () => view.look(0, 0),
  side: () => view.look(Math.PI / 2, 0),
  plan: () => view.look(0, Math.PI / 2),
  corner: () => view.look(-0.6, 0.35),
};
for (const made of all('[data-do]')) made.addEventListener('click', tools[made.dataset.do]);
for (const box of all('[data-show]')) box.addEventListener('change', () => {
  if (box.dataset.show === 'bolts') { view.showBolts = box.checked; view.draw(); } else { show[box.dataset.show] = box.checked; refresh(); }
});

function slice() {
  const axis = +one('[data-slice=axis]').value, low = +one('[data-slice=low]').value / 1000, high = +one('[data-slice=high]').value / 1000;
  const from = view.box[axis], size = view.box[3 + axis] - from;
  view.low = view.box.slice(0, 3);
  view.high = view.box.slice(3);
  view.low[axis] = from + Math.min(low, high) * size;
  view.high[axis] = from + Math.max(low, high) * size;
  const at = value => ((value + DATA.centre[axis]) / 1000).toFixed(2);
  one('[data-slice=text]').textContent = low === 0 && high === 1 ? '' : `${at(view.low[axis])} to ${at(view.high[axis])} m`;
  view.draw();
}
for (const input of all('input[data-slice]')) input.addEventListener('input', slice);
one('select[data-slice]').addEventListener('change', slice);

const tabs = all('[role=tab]');
function openTab(tab) {
  for (const other of tabs) {
    other.setAttribute('aria-selected', other === tab);
    other.tabIndex = other === tab ? 0 : -1;
    one('#' + other.getAttribute('aria-controls')).hidden = other !== tab;
  }
}
tabs.forEach((tab, k) => {
  tab.addEventListener('click', () => openTab(tab));
  tab.addEventListener('keydown', event => {
    const step = { ArrowRight: 1, ArrowLeft: -1 }[event.key];
    if (!step) return;
    const next = tabs[(k + step + tabs.length) % tabs.length];
    openTab(next);
    next.focus();
  });
});

view.onpick = found => {
  if (!found) { choose([], []); showPiece(-1); }
  else if ('part' in found) choosePart(found.part);
  else chooseBolt(found.bolt);
};
window.addEventListener('beforeprint', () => view.render());

refresh();
view.look(-0.6, 0.35);
let wished = '';
try { wished = decodeURIComponent(location.hash.slice(1)); } catch { wished = ''; }
if (byMark.has(wished)) choosePiece(byMark.get(wished));
