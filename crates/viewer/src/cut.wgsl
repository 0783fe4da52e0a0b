// A body that is lit; what lies beyond a plane is not drawn, and where the inside of a cut body is seen
// it is painted flat, so that the body looks solid.
#import bevy_pbr::{
    pbr_fragment::pbr_input_from_standard_material,
    pbr_functions::{alpha_discard, apply_pbr_lighting, main_pass_post_lighting_processing},
    forward_io::{VertexOutput, FragmentOutput},
}

struct Cut {
    plane: vec4<f32>,
    face: vec4<f32>,
    is_on: vec4<u32>,
}
@group(#{MATERIAL_BIND_GROUP}) @binding(100) var<uniform> cut: Cut;

@fragment
fn fragment(in: VertexOutput, @builtin(front_facing) is_front: bool) -> FragmentOutput {
    let is_cut = cut.is_on.x != 0u;
    if is_cut && dot(in.world_position.xyz, cut.plane.xyz) > cut.plane.w {
        discard;
    }
    var input = pbr_input_from_standard_material(in, is_front);
    input.material.base_color = alpha_discard(input.material, input.material.base_color);
    var out: FragmentOutput;
    if is_cut && !is_front {
        out.color = cut.face;
        return out;
    }
    out.color = main_pass_post_lighting_processing(input, apply_pbr_lighting(input));
    return out;
}
