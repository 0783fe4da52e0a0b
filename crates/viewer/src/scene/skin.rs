//! How faces and edges are drawn.

use bevy::asset::{load_internal_asset, uuid_handle};
use bevy::mesh::{MeshVertexAttribute, MeshVertexBufferLayoutRef, VertexFormat};
use bevy::pbr::{MaterialPipeline, MaterialPipelineKey};
use bevy::prelude::*;
use bevy::render::render_resource::{
    AsBindGroup, ColorWrites, CompareFunction, Face, RenderPipelineDescriptor, ShaderType,
    SpecializedMeshPipelineError,
};
use bevy::shader::ShaderRef;

const SKIN: Handle<Shader> = uuid_handle!("6f2b51c4-3d0e-4b8e-9a57-0e6c1f2a7d31");
const PEN: Handle<Shader> = uuid_handle!("c1d8a3f0-7e46-4f53-8b1c-95a0d27be604");

/// The other end of an edge, the normals of its two faces, and to which side of it a corner lies.
pub(super) const OTHER: MeshVertexAttribute =
    MeshVertexAttribute::new("EdgeOther", 0x6f76_6572_0001, VertexFormat::Float32x3);
pub(super) const LEFT: MeshVertexAttribute =
    MeshVertexAttribute::new("EdgeLeft", 0x6f76_6572_0002, VertexFormat::Float32x3);
pub(super) const RIGHT: MeshVertexAttribute =
    MeshVertexAttribute::new("EdgeRight", 0x6f76_6572_0003, VertexFormat::Float32x3);
pub(super) const SIDE: MeshVertexAttribute =
    MeshVertexAttribute::new("EdgeSide", 0x6f76_6572_0004, VertexFormat::Float32);

/// Planes by which may be cut at once.
pub(super) const PLANES: usize = 4;

/// Adds both, with their shaders.
pub(super) fn add_to(app: &mut App) {
    load_internal_asset!(app, SKIN, "skin.wgsl", Shader::from_wgsl);
    load_internal_asset!(app, PEN, "pen.wgsl", Shader::from_wgsl);
    app.add_plugins((MaterialPlugin::<Skin>::default(), MaterialPlugin::<Pen>::default()));
}

/// What hides what among faces through which one sees.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Layer {
    /// Hides what lies behind.
    Opaque,
    /// Lets it be seen, but only through its nearest face: drawn twice, the first time into the depth
    /// alone. Layers of a higher number lie outside of those of a lower one.
    Veil {
        /// Its number.
        number: u8,
        /// Whether it is the first time.
        is_depth: bool,
    },
    /// Drawn over everything.
    Over,
}

/// Faces.
#[derive(Asset, AsBindGroup, TypePath, Debug, Clone)]
#[bind_group_data(Layer)]
pub(super) struct Skin {
    #[uniform(0)]
    pub(super) paint: Paint,
    pub(super) layer: Layer,
}

/// As the shader takes it.
#[derive(ShaderType, Debug, Clone, Copy, Default)]
pub(super) struct Paint {
    /// Linear red, green, blue, opacity.
    pub(super) colour: Vec4,
    /// Linear red, green, blue of the hatching, and its pitch, pixels; a pitch of zero for none.
    pub(super) hatch: Vec4,
    pub(super) planes: [Vec4; PLANES],
    /// Planes in use; one for a flat colour; the number of the plane on which this lies, from one.
    pub(super) flags: UVec4,
}

impl From<&Skin> for Layer {
    fn from(skin: &Skin) -> Self {
        skin.layer
    }
}

impl Material for Skin {
    fn fragment_shader() -> ShaderRef {
        SKIN.into()
    }

    fn alpha_mode(&self) -> AlphaMode {
        if self.layer == Layer::Opaque { AlphaMode::Opaque } else { AlphaMode::Blend }
    }

    /// Orders the layers, whatever lies where within one.
    fn depth_bias(&self) -> f32 {
        const APART: f32 = 1e5;
        match self.layer {
            Layer::Opaque => 0.0,
            Layer::Veil { number, is_depth } => APART * f32::from(2 * number + u8::from(!is_depth)),
            Layer::Over => 100.0 * APART,
        }
    }

    fn enable_prepass() -> bool {
        false
    }

    fn enable_shadows() -> bool {
        false
    }

    fn specialize(
        _: &MaterialPipeline,
        descriptor: &mut RenderPipelineDescriptor,
        _: &MeshVertexBufferLayoutRef,
        key: MaterialPipelineKey<Self>,
    ) -> Result<(), SpecializedMeshPipelineError> {
        let layer = key.bind_group_data;
        // The inside of an open body is seen; of what is seen through, the outside is enough.
        let is_veil = matches!(layer, Layer::Veil { .. });
        descriptor.primitive.cull_mode = is_veil.then_some(Face::Back);
        let is_depth = matches!(layer, Layer::Veil { is_depth: true, .. });
        if let Some(depth) = &mut descriptor.depth_stencil {
            depth.depth_write_enabled = Some(layer == Layer::Opaque || is_depth);
            if layer == Layer::Over {
                depth.depth_compare = Some(CompareFunction::Always);
            }
        }
        if let Some(fragment) = descriptor.fragment.as_mut().filter(|_| is_depth) {
            for target in fragment.targets.iter_mut().flatten() {
                target.write_mask = ColorWrites::empty();
            }
        }
        Ok(())
    }
}

/// Edges.
#[derive(Asset, AsBindGroup, TypePath, Debug, Clone)]
#[bind_group_data(Ink)]
pub(super) struct Pen {
    #[uniform(0)]
    pub(super) line: Line,
    pub(super) ink: Ink,
}

/// Whether edges are hidden by what lies before them.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub(super) enum Ink {
    /// They are.
    Hidden,
    /// They are not.
    Over,
}

/// As the shader takes it.
#[derive(ShaderType, Debug, Clone, Copy, Default)]
pub(super) struct Line {
    /// Linear red, green, blue, opacity.
    pub(super) colour: Vec4,
    pub(super) planes: [Vec4; PLANES],
    /// Width, length of a dash (zero for a full line), how far nearer to the eye; pixels.
    pub(super) width: Vec4,
    /// Planes in use; the number of the plane on which this lies, from one.
    pub(super) flags: UVec4,
}

impl From<&Pen> for Ink {
    fn from(pen: &Pen) -> Self {
        pen.ink
    }
}

impl Material for Pen {
    fn vertex_shader() -> ShaderRef {
        PEN.into()
    }

    fn fragment_shader() -> ShaderRef {
        PEN.into()
    }

    fn alpha_mode(&self) -> AlphaMode {
        if self.ink == Ink::Over { AlphaMode::Blend } else { AlphaMode::Opaque }
    }

    fn depth_bias(&self) -> f32 {
        if self.ink == Ink::Over { 2e7 } else { 0.0 }
    }

    fn enable_prepass() -> bool {
        false
    }

    fn enable_shadows() -> bool {
        false
    }

    fn specialize(
        _: &MaterialPipeline,
        descriptor: &mut RenderPipelineDescriptor,
        layout: &MeshVertexBufferLayoutRef,
        key: MaterialPipelineKey<Self>,
    ) -> Result<(), SpecializedMeshPipelineError> {
        descriptor.vertex.buffers = vec![layout.0.get_layout(&[
            Mesh::ATTRIBUTE_POSITION.at_shader_location(0),
            OTHER.at_shader_location(1),
            LEFT.at_shader_location(2),
            RIGHT.at_shader_location(3),
            SIDE.at_shader_location(4),
        ])?];
        descriptor.primitive.cull_mode = None;
        if let Some(depth) = &mut descriptor.depth_stencil
            && key.bind_group_data == Ink::Over
        {
            depth.depth_compare = Some(CompareFunction::Always);
        }
        Ok(())
    }
}
