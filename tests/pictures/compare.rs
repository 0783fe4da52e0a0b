//! When two pictures are alike: the one threshold.

use image::{Rgba, RgbaImage};

/// A square of two by two pixels differs when a channel's mean does by more than this, of 255. Drivers
/// smooth edges a little differently; a colour of the palette is farther from every other. Our choice.
const DIFFERS: i32 = 24;
/// Pictures are alike where of so many squares no more than one differs: a fifth of what a hole of 16 by
/// 16 pixels makes in the kept ones. Our choice.
const OF: u32 = 3000;

/// Whether two pictures show the same.
pub(crate) fn is_alike(a: &RgbaImage, b: &RgbaImage) -> bool {
    if a.dimensions() != b.dimensions() {
        return false;
    }
    let (all, differ) = squares(a)
        .fold((0_u32, 0_u32), |(all, differ), at| (all + 1, differ + u32::from(differs(a, b, at))));
    differ * OF <= all
}

/// The first picture in faint grey with the squares that differ in black.
pub(crate) fn differing(a: &RgbaImage, b: &RgbaImage) -> RgbaImage {
    let mut shown = RgbaImage::from_fn(a.width(), a.height(), |x, y| {
        let [r, g, b, _] = a.get_pixel(x, y).0.map(u16::from);
        let grey = u8::try_from(192 + (r + g + b) / 12).unwrap_or(u8::MAX);
        Rgba([grey, grey, grey, 255])
    });
    if a.dimensions() == b.dimensions() {
        for at in squares(a).filter(|at| differs(a, b, *at)) {
            for (x, y) in pixels(at) {
                shown.put_pixel(x, y, Rgba([0, 0, 0, 255]));
            }
        }
    }
    shown
}

fn squares(picture: &RgbaImage) -> impl Iterator<Item = (u32, u32)> {
    let (across, down) = (picture.width() / 2, picture.height() / 2);
    (0..down).flat_map(move |y| (0..across).map(move |x| (2 * x, 2 * y)))
}

fn pixels((x, y): (u32, u32)) -> [(u32, u32); 4] {
    [(x, y), (x + 1, y), (x, y + 1), (x + 1, y + 1)]
}

fn differs(a: &RgbaImage, b: &RgbaImage, at: (u32, u32)) -> bool {
    let sum = |picture: &RgbaImage| {
        pixels(at).iter().fold([0_i32; 4], |sum, (x, y)| {
            let pixel = picture.get_pixel(*x, *y).0;
            [0, 1, 2, 3].map(|i: usize| sum[i] + i32::from(pixel[i]))
        })
    };
    let (a, b) = (sum(a), sum(b));
    a.iter().zip(b).any(|(a, b)| (a - b).abs() > 4 * DIFFERS)
}
