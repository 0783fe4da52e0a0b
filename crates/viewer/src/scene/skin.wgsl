// Faces, lit from the eye. No lights, no shadows: a face is the darker, the more it turns away, so that
// nothing is ever overlit and every colour stays near the palette's.
#import bevy_pbr::{
    forward_io::{VertexOutput, FragmentOutput},
    mesh_view_bindings::view,
}

struct Paint {
    // Linear red, green, blue, and opacity.
    colour: vec4<f32>,
    // Linear red, green, blue of the hatching; w: its pitch in pixels, zero for none.
    hatch: vec4<f32>,
    // What lies beyond one of these planes is cut away: unit normal, offset along it.
    planes: array<vec4<f32>, 4>,
    // x: planes in use. y: 1 for a flat colour. z: the plane on which this lies, from one; zero for none.
    flags: vec4<u32>,
}
@group(#{MATERIAL_BIND_GROUP}) @binding(0) var<uniform> paint: Paint;

@fragment
fn fragment(in: VertexOutput, @builtin(front_facing) is_front: bool) -> FragmentOutput {
    for (var i = 0u; i < paint.flags.x; i++) {
        let plane = paint.planes[i];
        if i + 1u != paint.flags.z && dot(in.world_position.xyz, plane.xyz) > plane.w {
            discard;
        }
    }
    var rgb = paint.colour.rgb;
    if paint.flags.y == 0u {
        let back = view.world_from_view[2].xyz;
        var to_eye = back;
        if view.clip_from_view[3][3] != 1.0 {
            to_eye = normalize(view.world_position - in.world_position.xyz);
        }
        var normal = normalize(in.world_normal);
        if !is_front {
            normal = -normal;
        }
        let right = view.world_from_view[0].xyz;
        let up = view.world_from_view[1].xyz;
        // A little from the left above, as drawings are lit.
        let light = normalize(to_eye - 0.38 * right + 0.45 * up);
        let share = 0.5 + 0.5 * dot(normal, light);
        rgb *= mix(0.16, 1.06, share * share);
        if !is_front {
            // The inside of an open body, darker, so that it is not taken for its outside.
            rgb *= 0.6;
        }
    }
    if paint.hatch.w > 0.0 {
        // Lines at 45 degrees, a third of the pitch wide, with soft edges one pixel wide.
        let along = (in.position.x + in.position.y) * 0.70710678;
        let off = abs(fract(along / paint.hatch.w) - 0.5) * paint.hatch.w;
        let ink = 1.0 - smoothstep(paint.hatch.w / 6.0 - 0.5, paint.hatch.w / 6.0 + 0.5, off);
        rgb = mix(rgb, paint.hatch.rgb, ink);
    }
    var out: FragmentOutput;
    out.color = vec4(min(rgb, vec3(1.0)), paint.colour.a);
    return out;
}
