//! Boxes of triangles, halved until few are in one.

use super::Bounds;
use crate::Mesh;

/// Triangles that are not parted further.
const FEW: usize = 8;

pub(super) struct Tree {
    /// The triangles, those of a node together.
    order: Vec<u32>,
    nodes: Vec<Node>,
}

struct Node {
    bounds: Bounds,
    /// Of the tree's order.
    triangles: std::ops::Range<usize>,
    /// The second of its halves, the first of which comes next; none of those that are not parted.
    other: Option<usize>,
}

impl Tree {
    pub(super) fn over(mesh: &Mesh) -> Self {
        let boxes: Vec<Bounds> = (0..mesh.triangles.len())
            .map(|t| {
                let [a, b, c] = mesh.corners(t);
                (a.inf(&b).inf(&c), a.sup(&b).sup(&c))
            })
            .collect();
        let mut tree = Self { order: (0_u32..).take(boxes.len()).collect(), nodes: Vec::new() };
        // Each with the node whose second half it is.
        let mut waiting = vec![(0..boxes.len(), None)];
        while let Some((range, half_of)) = waiting.pop() {
            let number = tree.nodes.len();
            if let Some(node) = half_of.and_then(|of: usize| tree.nodes.get_mut(of)) {
                node.other = Some(number);
            }
            let part = &mut tree.order[range.clone()];
            let all = part.iter().map(|t| boxes[*t as usize]);
            let Some(bounds) = all.reduce(|a, b| (a.0.inf(&b.0), a.1.sup(&b.1))) else { continue };
            tree.nodes.push(Node { bounds, triangles: range.clone(), other: None });
            if range.len() > FEW {
                let axis = (bounds.1 - bounds.0).imax();
                let middle = |t: &u32| boxes[*t as usize].0[axis] + boxes[*t as usize].1[axis];
                let half = part.len() / 2;
                part.select_nth_unstable_by(half, |a, b| middle(a).total_cmp(&middle(b)));
                let cut = range.start + half;
                waiting.push((cut..range.end, Some(number)));
                waiting.push((range.start..cut, None));
            }
        }
        tree
    }

    /// Every triangle whose box meets another.
    pub(super) fn each(&self, (low, high): &Bounds, mut visit: impl FnMut(u32)) {
        let apart = |b: &Bounds| (0..3).any(|axis| b.0[axis] > high[axis] || b.1[axis] < low[axis]);
        let mut at = Some(0);
        let mut waiting = Vec::new();
        while let Some(number) = at.or_else(|| waiting.pop()) {
            at = None;
            let Some(node) = self.nodes.get(number) else { continue };
            if apart(&node.bounds) {
                continue;
            }
            match node.other {
                Some(other) => {
                    waiting.push(other);
                    at = Some(number + 1);
                }
                None => self.order[node.triangles.clone()].iter().for_each(|t| visit(*t)),
            }
        }
    }
}
