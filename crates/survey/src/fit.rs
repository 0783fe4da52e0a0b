//! Planes, lines and circles through what lies near them, by least squares with outliers left out.

use nalgebra::{Matrix2, Matrix3, Point2, Point3, SymmetricEigen, Vector2, Vector3};

/// A count out of a value; 0 below zero, the nearest there is where it is none.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates")]
pub(crate) const fn whole(value: f64) -> usize {
    value as usize
}

/// Middle and normal of the plane nearest to weighted points; `None` without any weight.
pub(crate) fn plane(points: &[(Point3<f64>, f64)]) -> Option<(Point3<f64>, Vector3<f64>)> {
    let total: f64 = points.iter().map(|(_, w)| w).sum();
    if total <= 0.0 {
        return None;
    }
    let sum = points.iter().fold(Vector3::zeros(), |s, (p, w)| s + p.coords * *w);
    let middle = Point3::from(sum / total);
    let moments = points.iter().fold(Matrix3::zeros(), |m, (p, w)| {
        let d = p - middle;
        m + d * d.transpose() * *w
    });
    let eigen = SymmetricEigen::new(moments);
    let least = eigen.eigenvalues.imin();
    Some((middle, eigen.eigenvectors.column(least).into_owned()))
}

/// A line in the plane: the points at `normal . p = offset`.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Line {
    pub(crate) normal: Vector2<f64>,
    pub(crate) offset: f64,
}

/// The line nearest to weighted points, its normal on the side of `outward`; points farther off than
/// thrice the usual are left out, none nearer than `floor`.
pub(crate) fn line(
    points: &[(Point2<f64>, f64)],
    outward: &Vector2<f64>,
    floor: f64,
) -> Option<Line> {
    let mut kept: Vec<(Point2<f64>, f64)> = points.to_vec();
    let mut found = None;
    for _ in 0..4 {
        let total: f64 = kept.iter().map(|(_, w)| w).sum();
        if kept.len() < 2 || total <= 0.0 {
            return found;
        }
        let sum = kept.iter().fold(Vector2::zeros(), |s, (p, w)| s + p.coords * *w);
        let middle = sum / total;
        let moments = kept.iter().fold(Matrix2::zeros(), |m, (p, w)| {
            let d = p.coords - middle;
            m + d * d.transpose() * *w
        });
        let eigen = SymmetricEigen::new(moments);
        let least = eigen.eigenvalues.imin();
        let mut normal: Vector2<f64> = eigen.eigenvectors.column(least).into_owned();
        if normal.dot(outward) < 0.0 {
            normal = -normal;
        }
        let line = Line { normal, offset: normal.dot(&middle) };
        found = Some(line);
        let off = |p: &Point2<f64>| (line.normal.dot(&p.coords) - line.offset).abs();
        let usual = weighted_median(kept.iter().map(|(p, w)| (off(p), *w)));
        let most = (3.0 * 1.4826 * usual).max(floor);
        kept = points.iter().filter(|(p, _)| off(p) <= most).copied().collect();
    }
    found
}

/// A circle with how well it was met.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Circle {
    pub(crate) centre: Point2<f64>,
    pub(crate) radius: f64,
    /// Weighted median of how far the points lie off it, mm.
    pub(crate) usual: f64,
    /// The share of the weight that lies within the trimming.
    pub(crate) share: f64,
}

/// The circle nearest to weighted points; points farther off than thrice the usual are left out,
/// none nearer than `floor`. `None` where the points do not bend.
pub(crate) fn circle(points: &[(Point2<f64>, f64)], floor: f64) -> Option<Circle> {
    let all: f64 = points.iter().map(|(_, w)| w).sum();
    let mut kept: Vec<(Point2<f64>, f64)> = points.to_vec();
    let mut found: Option<Circle> = None;
    for _ in 0..6 {
        let (mut centre, mut radius) = algebraic(&kept)?;
        for _ in 0..20 {
            let Some(step) = step(&kept, centre, radius) else { break };
            centre += step.xy();
            radius += step.z;
            if step.norm() < 1e-10 {
                break;
            }
        }
        let off = |p: &Point2<f64>| ((p - centre).norm() - radius).abs();
        let usual = weighted_median(points.iter().map(|(p, w)| (off(p), *w)));
        let near = weighted_median(kept.iter().map(|(p, w)| (off(p), *w)));
        let most = (3.0 * 1.4826 * near).max(floor);
        let next: Vec<_> = points.iter().filter(|(p, _)| off(p) <= most).copied().collect();
        let share = next.iter().map(|(_, w)| w).sum::<f64>() / all;
        found = Some(Circle { centre, radius, usual, share });
        if next.len() == kept.len() {
            break;
        }
        kept = next;
    }
    found.filter(|c| c.radius.is_finite() && c.radius < 1e5)
}

/// The circle with the least algebraic distance (Kasa), as a beginning.
fn algebraic(points: &[(Point2<f64>, f64)]) -> Option<(Point2<f64>, f64)> {
    let total: f64 = points.iter().map(|(_, w)| w).sum();
    if points.len() < 3 || total <= 0.0 {
        return None;
    }
    let sum = points.iter().fold(Vector2::zeros(), |s, (p, w)| s + p.coords * *w);
    let middle = sum / total;
    let (mut m, mut right) = (Matrix2::zeros(), Vector2::zeros());
    let mut square = 0.0;
    for (p, w) in points {
        let d = p.coords - middle;
        m += d * d.transpose() * *w;
        right += d * (*w * d.norm_squared() / 2.0);
        square += *w * d.norm_squared();
    }
    let off = m.try_inverse()? * right;
    let radius = (square / total + off.norm_squared()).sqrt();
    Some((Point2::from(middle + off), radius))
}

/// One step of Gauss and Newton on the true distances.
fn step(points: &[(Point2<f64>, f64)], centre: Point2<f64>, radius: f64) -> Option<Vector3<f64>> {
    let (mut m, mut right) = (Matrix3::zeros(), Vector3::zeros());
    for (p, w) in points {
        let d = p - centre;
        let long = d.norm();
        if long <= 0.0 {
            continue;
        }
        let row = Vector3::new(d.x / long, d.y / long, 1.0);
        m += row * row.transpose() * *w;
        right += row * (*w * (long - radius));
    }
    Some(m.try_inverse()? * right)
}

/// The value that halves the weight; zero without any.
pub(crate) fn weighted_median(values: impl Iterator<Item = (f64, f64)>) -> f64 {
    let mut sorted: Vec<(f64, f64)> = values.collect();
    sorted.sort_by(|a, b| a.0.total_cmp(&b.0));
    let half = 0.5 * sorted.iter().map(|(_, w)| w).sum::<f64>();
    let mut so_far = 0.0;
    for (value, weight) in sorted {
        so_far += weight;
        if so_far >= half {
            return value;
        }
    }
    0.0
}

/// The middle value; zero of none.
pub(crate) fn median(values: impl IntoIterator<Item = f64>) -> f64 {
    let mut sorted: Vec<f64> = values.into_iter().collect();
    sorted.sort_by(f64::total_cmp);
    let count = sorted.len();
    match (sorted.get(count / 2), sorted.get(count.saturating_sub(1) / 2)) {
        (Some(a), Some(b)) => 0.5 * (a + b),
        _ => 0.0,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Points of a circle drawn by hand with a chord of outliers.
    #[test]
    fn a_circle_is_found_among_outliers() {
        let centre = Point2::new(120.0, -40.0);
        let mut points: Vec<(Point2<f64>, f64)> = (0..80)
            .map(|i| {
                let a = f64::from(i) / 80.0 * std::f64::consts::TAU;
                (centre + 82.5 * Vector2::new(a.cos(), a.sin()), 1.0)
            })
            .collect();
        points.extend((0..15).map(|i| (Point2::new(60.0 + f64::from(i), 20.0), 1.0)));
        let found = circle(&points, 0.05).unwrap();
        assert!((found.centre - centre).norm() < 1e-6, "{found:?}");
        assert!((found.radius - 82.5).abs() < 1e-6 && found.usual < 1e-6, "{found:?}");
        assert!((found.share - 80.0 / 95.0).abs() < 1e-9);
    }

    #[test]
    fn a_line_is_found_among_outliers() {
        let mut points: Vec<(Point2<f64>, f64)> =
            (0..50).map(|i| (Point2::new(f64::from(i), 7.0 - 0.5 * f64::from(i)), 1.0)).collect();
        // A step beside it, as a weld or a boss makes one.
        points
            .extend((20..26).map(|i| (Point2::new(f64::from(i), 10.0 - 0.5 * f64::from(i)), 1.0)));
        let found = line(&points, &Vector2::new(0.0, 1.0), 0.01).unwrap();
        // y + x / 2 = 7, over the root of 1.25.
        assert!((found.offset - 7.0 / 1.25_f64.sqrt()).abs() < 1e-6, "{found:?}");
        assert!((found.normal - Vector2::new(0.5, 1.0) / 1.25_f64.sqrt()).norm() < 1e-6);
    }

    #[test]
    fn medians() {
        assert!((median([3.0, 1.0, 2.0]) - 2.0).abs() < 1e-12);
        assert!((median([4.0, 1.0]) - 2.5).abs() < 1e-12);
        assert!((weighted_median([(1.0, 5.0), (9.0, 1.0)].into_iter()) - 1.0).abs() < 1e-12);
    }
}
