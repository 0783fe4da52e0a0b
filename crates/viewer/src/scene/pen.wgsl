// Edges as lines of a width in pixels. An edge is drawn where it is sharp, and where one of its two faces
// looks at the eye and the other does not: the outline of what is round.
#import bevy_pbr::{
    mesh_functions,
    mesh_view_bindings::view,
}

struct Line {
    // Linear red, green, blue, and opacity.
    colour: vec4<f32>,
    planes: array<vec4<f32>, 4>,
    // Width, length of a dash (zero for a full line), both in pixels; how many pixels' worth a line is
    // drawn nearer to the eye than it is, so that the faces on which it lies do not hide it.
    width: vec4<f32>,
    // x: planes in use. y: the plane on which this lies, from one; zero for none.
    flags: vec4<u32>,
}
@group(#{MATERIAL_BIND_GROUP}) @binding(0) var<uniform> line: Line;

struct Vertex {
    @builtin(instance_index) instance_index: u32,
    @location(0) here: vec3<f32>,
    @location(1) there: vec3<f32>,
    // The normals of the two faces; zero for an edge that is always drawn.
    @location(2) left: vec3<f32>,
    @location(3) right: vec3<f32>,
    // To which side of the line, seen from here to there.
    @location(4) side: f32,
}

struct Drawn {
    @builtin(position) position: vec4<f32>,
    @location(0) world: vec3<f32>,
}

@vertex
fn vertex(in: Vertex) -> Drawn {
    let world_from_local = mesh_functions::get_world_from_local(in.instance_index);
    let here = (world_from_local * vec4(in.here, 1.0)).xyz;
    let there = (world_from_local * vec4(in.there, 1.0)).xyz;
    let is_parallel = view.clip_from_view[3][3] == 1.0;
    var to_eye = view.world_from_view[2].xyz;
    if !is_parallel {
        to_eye = view.world_position - 0.5 * (here + there);
    }
    let left = (world_from_local * vec4(in.left, 0.0)).xyz;
    let right = (world_from_local * vec4(in.right, 0.0)).xyz;
    var out: Drawn;
    out.world = here;
    // Outside of what is seen.
    out.position = vec4(2.0, 2.0, 2.0, 1.0);
    var a = view.clip_from_world * vec4(here, 1.0);
    let b = view.clip_from_world * vec4(there, 1.0);
    if dot(left, to_eye) * dot(right, to_eye) > 0.0 || a.w <= 0.0 || b.w <= 0.0 {
        return out;
    }
    let half_size = 0.5 * view.viewport.zw;
    let way = (b.xy / b.w - a.xy / a.w) * half_size;
    let long = length(way);
    var along = vec2(1.0, 0.0);
    if long > 1e-4 {
        along = way / long;
    }
    let half_width = 0.5 * line.width.x;
    // Half a width longer at each end, so that corners close.
    let off = (vec2(-along.y, along.x) * in.side - along) * half_width / half_size;
    let pixel = 2.0 / (view.viewport.w * view.clip_from_view[1][1]);
    if is_parallel {
        a.z += line.width.z * pixel * view.clip_from_view[2][2];
    } else {
        a.z *= a.w / max(a.w - line.width.z * pixel * a.w, 1e-3);
    }
    out.position = vec4(a.xy + off * a.w, a.zw);
    return out;
}

@fragment
fn fragment(in: Drawn) -> @location(0) vec4<f32> {
    for (var i = 0u; i < line.flags.x; i++) {
        let plane = line.planes[i];
        if i + 1u != line.flags.y && dot(in.world, plane.xyz) > plane.w {
            discard;
        }
    }
    if line.width.y > 0.0 && fract((in.position.x + 0.61 * in.position.y) / line.width.y) > 0.6 {
        discard;
    }
    return line.colour;
}
