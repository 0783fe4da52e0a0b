//! Planes through points by least squares, and how a few neighbours lie.

use nalgebra::{Matrix3, Point3, SymmetricEigen, Vector3};

/// Sums from which the nearest plane comes; coordinates are taken from a point near the middle, so
/// that far origins cost no places.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Sums {
    about: Point3<f64>,
    weight: f64,
    first: Vector3<f64>,
    second: Matrix3<f64>,
}

/// How points lie: their middle, the directions in which they spread least, more and most, and the
/// mean squares along each, mm2.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Spread {
    pub(crate) middle: Point3<f64>,
    pub(crate) axes: [Vector3<f64>; 3],
    pub(crate) squares: [f64; 3],
    pub(crate) weight: f64,
}

impl Sums {
    pub(crate) fn about(about: Point3<f64>) -> Self {
        Self { about, weight: 0.0, first: Vector3::zeros(), second: Matrix3::zeros() }
    }

    pub(crate) fn add(&mut self, p: &Point3<f64>, weight: f64) {
        let d = p - self.about;
        self.weight += weight;
        self.first += d * weight;
        self.second += d * d.transpose() * weight;
    }

    pub(crate) fn join(mut self, other: &Self) -> Self {
        self.weight += other.weight;
        self.first += other.first;
        self.second += other.second;
        self
    }

    /// `None` without any weight.
    pub(crate) fn spread(&self) -> Option<Spread> {
        if self.weight <= 0.0 || !self.weight.is_finite() {
            return None;
        }
        let mean = self.first / self.weight;
        let spread = self.second / self.weight - mean * mean.transpose();
        if !spread.iter().all(|v| v.is_finite()) {
            return None;
        }
        let eigen = SymmetricEigen::new(spread);
        let mut order = [0, 1, 2];
        order.sort_by(|a, b| eigen.eigenvalues[*a].total_cmp(&eigen.eigenvalues[*b]));
        Some(Spread {
            middle: self.about + mean,
            axes: order.map(|i| eigen.eigenvectors.column(i).into_owned()),
            squares: order.map(|i| eigen.eigenvalues[i].max(0.0)),
            weight: self.weight,
        })
    }
}

/// A plane: a point on it and its unit normal.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Plane {
    pub(crate) on: Point3<f64>,
    pub(crate) normal: Vector3<f64>,
}

impl Plane {
    /// How far a point lies off it, on the normal's side above zero, mm.
    pub(crate) fn off(&self, p: &Point3<f64>) -> f64 {
        self.normal.dot(&(p - self.on))
    }
}
