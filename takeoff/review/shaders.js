// Vertex and fragment programs of the view (GLSL ES 3.00).

const SHARED = `#version 300 es
precision highp float; precision highp int;
uniform mat4 view; uniform vec3 low, high; uniform bool picking; uniform uint base; uniform bool dim;
`;
const PLACE = `
out vec3 world; flat out uint look; flat out uint id;
void put(vec3 w, uint state) {
  world = w; look = state; id = base + uint(gl_InstanceID) + 1u;
  gl_Position = (state & 4u) != 0u ? vec4(2.0, 2.0, 2.0, 1.0) : view * vec4(w, 1.0);
}`;
const PART_VERTEX = SHARED + `
layout(location=0) in vec3 point; layout(location=1) in vec3 origin; layout(location=2) in vec3 ax;
layout(location=3) in vec3 au; layout(location=4) in uint state;` + PLACE + `
void main() { put(origin + point.x * ax + point.y * au + point.z * cross(ax, au), state); }`;
// A bolt's mesh: x is 0 at the head's side of the grip and 1 at the nut's; y moves on along the bolt and
// (z, w) across it, both in diameters.
const BOLT_VERTEX = SHARED + `
layout(location=0) in vec4 point; layout(location=1) in vec3 origin; layout(location=2) in vec3 reach;
layout(location=3) in float diameter; layout(location=4) in uint state;` + PLACE + `
void main() {
  float size = length(reach);
  vec3 along = size > 1e-6 ? reach / size : vec3(0.0, 0.0, 1.0);
  vec3 side = normalize(cross(along, abs(along.z) < 0.9 ? vec3(0.0, 0.0, 1.0) : vec3(1.0, 0.0, 0.0)));
  vec3 other = cross(along, side);
  put(origin + along * (point.x * size + point.y * diameter) + (side * point.z + other * point.w) * diameter, state);
}`;
const FRAGMENT = SHARED + `
in vec3 world; flat in uint look; flat in uint id; uniform vec3 eye; uniform vec3 paint; uniform float flatness;
out vec4 colour;
void main() {
  if (any(lessThan(world, low)) || any(greaterThan(world, high))) discard;
  if (picking) {
    colour = vec4(float(id & 255u), float((id >> 8) & 255u), float((id >> 16) & 255u), float(id >> 24)) / 255.0;
    return;
  }
  float light = 1.0;
  vec3 n = cross(dFdx(world), dFdy(world));
  // A line has no normal: its derivatives may be parallel or nought.
  if (flatness == 0.0 && dot(n, n) > 0.0) {
    n = normalize(dot(n, eye) < 0.0 ? -n : n);
    light = 0.5 + 0.36 * dot(n, eye) + 0.14 * n.z;
  }
  vec3 c = paint;
  if ((look & 2u) != 0u) c = vec3(0.02, 0.34, 0.40);
  else if (dim) c = mix(c, vec3(1.0), 0.74);
  if ((look & 1u) != 0u && flatness == 0.0 && mod(gl_FragCoord.x + gl_FragCoord.y, 10.0) < 4.0)
    c = (look & 2u) != 0u ? vec3(0.75) : c * 0.35;
  colour = vec4(c * light, 1.0);
}`;
