//! What of a glTF document says anything of shape, names and colours.

use serde::Deserialize;

/// A property that says only whether it is there.
pub(super) type Anything = serde::de::IgnoredAny;

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Document {
    pub(super) asset: Asset,
    pub(super) scene: Option<usize>,
    #[serde(default)]
    pub(super) scenes: Vec<Scene>,
    #[serde(default)]
    pub(super) nodes: Vec<Node>,
    #[serde(default)]
    pub(super) meshes: Vec<MeshOf>,
    #[serde(default)]
    pub(super) materials: Vec<Material>,
    #[serde(default)]
    pub(super) accessors: Vec<Accessor>,
    #[serde(default)]
    pub(super) buffer_views: Vec<View>,
    #[serde(default)]
    pub(super) buffers: Vec<Buffer>,
    #[serde(default)]
    pub(super) extensions_required: Vec<String>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Asset {
    pub(super) version: String,
    pub(super) min_version: Option<String>,
}

#[derive(Deserialize)]
pub(super) struct Scene {
    #[serde(default)]
    pub(super) nodes: Vec<usize>,
}

#[derive(Deserialize)]
pub(super) struct Node {
    pub(super) name: Option<String>,
    #[serde(default)]
    pub(super) children: Vec<usize>,
    pub(super) mesh: Option<usize>,
    pub(super) skin: Option<Anything>,
    pub(super) matrix: Option<Box<[f64; 16]>>,
    pub(super) translation: Option<[f64; 3]>,
    pub(super) rotation: Option<[f64; 4]>,
    pub(super) scale: Option<[f64; 3]>,
    pub(super) extensions: Option<NodeExtensions>,
}

#[derive(Deserialize)]
pub(super) struct NodeExtensions {
    #[serde(rename = "EXT_mesh_gpu_instancing")]
    pub(super) instancing: Option<Anything>,
}

#[derive(Deserialize)]
pub(super) struct MeshOf {
    pub(super) name: Option<String>,
    pub(super) primitives: Vec<Primitive>,
    #[serde(default)]
    pub(super) weights: Vec<f64>,
}

#[derive(Deserialize)]
pub(super) struct Primitive {
    pub(super) attributes: Attributes,
    pub(super) indices: Option<usize>,
    pub(super) material: Option<usize>,
    #[serde(default = "triangles")]
    pub(super) mode: u32,
}

/// What a primitive is that does not say.
fn triangles() -> u32 {
    4
}

#[derive(Deserialize)]
pub(super) struct Attributes {
    #[serde(rename = "POSITION")]
    pub(super) position: Option<usize>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Material {
    pub(super) pbr_metallic_roughness: Option<Pbr>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Pbr {
    pub(super) base_color_factor: Option<[f64; 4]>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Accessor {
    pub(super) buffer_view: Option<usize>,
    #[serde(default)]
    pub(super) byte_offset: u64,
    pub(super) component_type: u32,
    #[serde(default)]
    pub(super) normalized: bool,
    pub(super) count: u64,
    #[serde(rename = "type")]
    pub(super) shape: String,
    pub(super) sparse: Option<Sparse>,
}

#[derive(Deserialize)]
pub(super) struct Sparse {
    pub(super) count: u64,
    pub(super) indices: SparseIndices,
    pub(super) values: SparseValues,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct SparseIndices {
    pub(super) buffer_view: usize,
    #[serde(default)]
    pub(super) byte_offset: u64,
    pub(super) component_type: u32,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct SparseValues {
    pub(super) buffer_view: usize,
    #[serde(default)]
    pub(super) byte_offset: u64,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct View {
    pub(super) buffer: usize,
    #[serde(default)]
    pub(super) byte_offset: u64,
    pub(super) byte_length: u64,
    pub(super) byte_stride: Option<u64>,
}

#[derive(Deserialize)]
#[serde(rename_all = "camelCase")]
pub(super) struct Buffer {
    pub(super) uri: Option<String>,
    pub(super) byte_length: u64,
}
