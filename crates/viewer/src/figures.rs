//! The figures: lines between the points where they were measured, with labels that follow them, and
//! the lines above and below the picture.

use crate::eye::point;
use crate::look::Look;
use bevy::prelude::*;
use display::Mark;

/// What limits, and nothing else, is in this colour: Okabe and Ito's vermillion.
pub const STRONG: Color = Color::srgb(0.835, 0.369, 0.0);
/// Lines and letters.
pub const INK: Color = Color::srgb(0.12, 0.13, 0.15);
/// Behind letters.
const PAPER: Color = Color::srgba(1.0, 1.0, 1.0, 0.86);
/// Letters, pixels.
const LETTERS: f32 = 15.0;

/// A mark with the middle of its line in the world.
#[derive(Component, Debug, Clone)]
pub struct Label {
    ends: [Vec3; 2],
    colour: Color,
}

/// Draws the lines and places the labels.
pub fn plugin(app: &mut App) {
    app.add_systems(Startup, thick_lines).add_systems(Update, lines).add_systems(
        PostUpdate,
        place
            .after(bevy::transform::TransformSystems::Propagate)
            .before(bevy::ui::UiSystems::Layout),
    );
}

fn thick_lines(mut config: ResMut<GizmoConfigStore>) {
    let (config, _) = config.config_mut::<DefaultGizmoConfigGroup>();
    config.line.width = 2.5;
    // In front of everything: a gap is inside other parts more often than not.
    config.depth_bias = -1.0;
}

/// Spawns the labels of a look's marks and its two lines of text.
pub fn spawn(world: &mut World, look: &Look) {
    for mark in &look.marks {
        let colour = if mark.is_short || mark.limits { STRONG } else { INK };
        let ends = mark.ends.each_ref().map(point);
        world.spawn((Label { ends, colour }, tag(mark, colour)));
    }
    for (text, is_foot) in [(&look.title, false), (&look.foot, true)] {
        if !text.is_empty() {
            world.spawn(strip(text, is_foot));
        }
    }
}

fn tag(mark: &Mark, colour: Color) -> impl Bundle {
    (
        Node {
            position_type: PositionType::Absolute,
            padding: UiRect::axes(px(5), px(2)),
            border: UiRect::left(px(3)),
            ..default()
        },
        BackgroundColor(PAPER),
        BorderColor::all(colour),
        children![(
            Text::new(format!("{}: {}", mark.check, mark.figure)),
            TextFont { font_size: FontSize::Px(LETTERS), ..default() },
            TextColor(INK),
        )],
    )
}

fn strip(text: &str, is_foot: bool) -> impl Bundle {
    let size = if is_foot { 0.8 * LETTERS } else { 1.2 * LETTERS };
    (
        Node {
            position_type: PositionType::Absolute,
            left: px(0),
            right: px(0),
            top: if is_foot { auto() } else { px(0) },
            bottom: if is_foot { px(0) } else { auto() },
            padding: UiRect::axes(px(12), px(7)),
            ..default()
        },
        BackgroundColor(PAPER),
        children![(
            Text::new(text.to_owned()),
            TextFont { font_size: FontSize::Px(size), ..default() },
            TextColor(INK),
        )],
    )
}

fn lines(mut gizmos: Gizmos, labels: Query<&Label>) {
    /// The ends are marked by balls of this radius, metres.
    const BALL: f32 = 0.003;
    for Label { ends: [a, b], colour } in &labels {
        gizmos.line(*a, *b, *colour);
        for end in [a, b] {
            gizmos.sphere(Isometry3d::from_translation(*end), BALL, *colour);
        }
    }
}

/// Puts the labels beside their lines, each below the last where they would cover each other.
fn place(
    camera: Query<(&Camera, &GlobalTransform)>,
    mut labels: Query<(&Label, &mut Node, &mut Visibility)>,
) {
    /// From a line to its label, pixels, and between two labels.
    const ASIDE: Vec2 = Vec2::new(14.0, -10.0);
    const APART: Vec2 = Vec2::new(230.0, 26.0);
    let Ok((camera, transform)) = camera.single() else { return };
    let mut taken: Vec<Vec2> = Vec::new();
    for (label, mut node, mut visibility) in &mut labels {
        let middle = label.ends[0].midpoint(label.ends[1]);
        let Ok(at) = camera.world_to_viewport(transform, middle) else {
            *visibility = Visibility::Hidden;
            continue;
        };
        let mut at = at + ASIDE;
        while let Some(other) =
            taken.iter().find(|t| (at.x - t.x).abs() < APART.x && (at.y - t.y).abs() < APART.y)
        {
            at.y = other.y + APART.y;
        }
        taken.push(at);
        node.left = px(at.x);
        node.top = px(at.y);
        *visibility = Visibility::Inherited;
    }
}
