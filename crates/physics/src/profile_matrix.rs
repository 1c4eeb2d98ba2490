//! Linear equations with few neighbours per unknown, factored on the profile of the matrix.
//!
//! The unknowns stand in the reversed order of Cuthill and McKee, so that the profile stays narrow: about √n wide in a section of n circles. The
//! pattern is symmetric, the values need not be. No pivoting: for the matrices of heat (no positive entry off the diagonal) every
//! pivot is positive exactly where the state that they belong to is stable.

use std::collections::VecDeque;
use std::sync::Arc;

/// Where the four entries of a link stand.
#[derive(Clone, Copy, Debug, Default)]
pub(crate) struct Coupling {
    places: [u32; 2],
    entry: u32,
}

/// Order of the unknowns and extent of each row.
#[derive(Clone, Debug)]
pub(crate) struct Profile {
    /// Place of each unknown in the order.
    place: Vec<u32>,
    /// First column of each row, in the order.
    first: Vec<u32>,
    /// Where each row starts among the stored values; one more at the end.
    start: Vec<u32>,
}

impl Profile {
    /// Of unknowns that are linked in pairs. The `last` highest unknowns are linked to many and stay at the end.
    pub(crate) fn new(unknowns: usize, links: &[(u32, u32)], last: usize) -> Profile {
        let free = unknowns - last;
        let mut near: Vec<Vec<u32>> = vec![Vec::new(); unknowns];
        for &(a, b) in links {
            near[a as usize].push(b);
            near[b as usize].push(a);
        }
        let mut place = vec![u32::MAX; unknowns];
        let mut order: Vec<u32> = Vec::with_capacity(unknowns);
        for seed in 0..free {
            if place[seed] == u32::MAX {
                let far = *walk(seed as u32, &near, free, &place).last().unwrap_or(&(seed as u32));
                for node in walk(far, &near, free, &place) {
                    place[node as usize] = order.len() as u32;
                    order.push(node);
                }
            }
        }
        order.reverse();
        order.extend((free..unknowns).map(|node| node as u32));
        for (at, &node) in order.iter().enumerate() {
            place[node as usize] = at as u32;
        }
        let mut first: Vec<u32> = (0..unknowns as u32).collect();
        for &(a, b) in links {
            let (a, b) = (place[a as usize], place[b as usize]);
            let row = &mut first[a.max(b) as usize];
            *row = (*row).min(a.min(b));
        }
        let mut start = vec![0];
        for (row, first) in first.iter().enumerate() {
            start.push(start[row] + row as u32 - first);
        }
        Profile { place, first, start }
    }

    /// Where a link of the pattern stands.
    pub(crate) fn coupling(&self, a: usize, b: usize) -> Coupling {
        let places = [self.place[a], self.place[b]];
        let (high, low) = (places[0].max(places[1]), places[0].min(places[1]));
        Coupling { places, entry: self.start[high as usize] + low - self.first[high as usize] }
    }

    /// Rows and columns.
    fn len(&self) -> usize {
        self.place.len()
    }

    /// Where the values of a row lie.
    fn row(&self, row: usize) -> std::ops::Range<usize> {
        self.start[row] as usize..self.start[row + 1] as usize
    }
}

/// Unknowns reached from one, nearest first, those of few links before others. The ones that have a place already are left out.
fn walk(from: u32, near: &[Vec<u32>], free: usize, place: &[u32]) -> Vec<u32> {
    let mut seen = vec![false; near.len()];
    let (mut queue, mut out) = (VecDeque::from([from]), Vec::new());
    seen[from as usize] = true;
    while let Some(node) = queue.pop_front() {
        out.push(node);
        let fresh = |other: &&u32| (**other as usize) < free && !seen[**other as usize] && place[**other as usize] == u32::MAX;
        let mut next: Vec<u32> = near[node as usize].iter().filter(fresh).copied().collect();
        next.sort_unstable_by_key(|other| (near[*other as usize].len(), *other));
        next.dedup();
        for other in next {
            seen[other as usize] = true;
            queue.push_back(other);
        }
    }
    out
}

/// A matrix on a profile; after [`factor`](Matrix::factor) its factors.
#[derive(Clone, Debug)]
pub(crate) struct Matrix {
    profile: Arc<Profile>,
    diagonal: Vec<f64>,
    /// Below the diagonal, row by row.
    lower: Vec<f64>,
    /// Above the diagonal, column by column.
    upper: Vec<f64>,
}

impl Matrix {
    /// All zero.
    pub(crate) fn new(profile: &Arc<Profile>) -> Matrix {
        let stored = profile.start.last().map_or(0, |end| *end as usize);
        Matrix { profile: Arc::clone(profile), diagonal: vec![0.0; profile.len()], lower: vec![0.0; stored], upper: vec![0.0; stored] }
    }

    /// All zero again.
    pub(crate) fn clear(&mut self) {
        self.diagonal.fill(0.0);
        self.lower.fill(0.0);
        self.upper.fill(0.0);
    }

    /// Adds to an entry of the pattern.
    pub(crate) fn add(&mut self, row: usize, column: usize, value: f64) {
        let (row, column) = (self.profile.place[row] as usize, self.profile.place[column] as usize);
        let at = |high: usize, low: usize| self.profile.start[high] as usize + low - self.profile.first[high] as usize;
        match row.cmp(&column) {
            std::cmp::Ordering::Equal => self.diagonal[row] += value,
            std::cmp::Ordering::Greater => self.lower[at(row, column)] += value,
            std::cmp::Ordering::Less => self.upper[at(column, row)] += value,
        }
    }

    /// Adds what a flow from a to b takes from one and gives to the other: its slopes against both.
    pub(crate) fn couple(&mut self, link: Coupling, by_a: f64, by_b: f64) {
        let [a, b] = link.places;
        let entry = link.entry as usize;
        self.diagonal[a as usize] += by_a;
        self.diagonal[b as usize] += by_b;
        let (below, above) = if a > b { (by_b, by_a) } else { (by_a, by_b) };
        self.lower[entry] -= below;
        self.upper[entry] -= above;
    }

    /// Makes a row say that its unknown is the right-hand side.
    pub(crate) fn hold(&mut self, row: usize) {
        let row = self.profile.place[row] as usize;
        self.diagonal[row] = 1.0;
        self.lower[self.profile.row(row)].fill(0.0);
        for column in row + 1..self.profile.len() {
            let first = self.profile.first[column] as usize;
            if first <= row {
                self.upper[self.profile.start[column] as usize + row - first] = 0.0;
            }
        }
    }

    /// An entry on the diagonal.
    pub(crate) fn own(&self, row: usize) -> f64 {
        self.diagonal[self.profile.place[row] as usize]
    }

    /// The largest entry on the diagonal.
    pub(crate) fn largest(&self) -> f64 {
        self.diagonal.iter().copied().fold(0.0, f64::max)
    }

    /// Factors in place.
    ///
    /// # Errors  A pivot that is not above zero; the factors then mean nothing.
    pub(crate) fn factor(&mut self) -> Result<(), NotStable> {
        for i in 0..self.profile.len() {
            let first = self.profile.first[i] as usize;
            let (done, rest) = (self.profile.row(i).start, self.profile.row(i));
            let (above_lower, row) = self.lower.split_at_mut(done);
            let (above_upper, column) = self.upper.split_at_mut(done);
            let (row, column) = (&mut row[..rest.len()], &mut column[..rest.len()]);
            let mut pivot = self.diagonal[i];
            for j in first..i {
                let from = first.max(self.profile.first[j] as usize);
                let (begin, end) = (from - first, j - first);
                let other = self.profile.start[j] as usize + from - self.profile.first[j] as usize;
                let stop = other + (end - begin);
                let l = row[end] - dot(&row[begin..end], &above_upper[other..stop]);
                let u = column[end] - dot(&column[begin..end], &above_lower[other..stop]);
                row[end] = l / self.diagonal[j];
                column[end] = u;
                pivot -= row[end] * u;
            }
            if pivot.is_nan() || pivot <= 0.0 {
                return Err(NotStable);
            }
            self.diagonal[i] = pivot;
        }
        Ok(())
    }

    /// Solves with the factors; the right-hand side in, the unknowns out, both in their own numbering.
    pub(crate) fn solve(&self, values: &mut [f64]) {
        let mut x = vec![0.0; values.len()];
        for (value, &place) in values.iter().zip(&self.profile.place) {
            x[place as usize] = *value;
        }
        for i in 0..x.len() {
            let first = self.profile.first[i] as usize;
            x[i] -= dot(&self.lower[self.profile.row(i)], &x[first..i]);
        }
        for i in (0..x.len()).rev() {
            x[i] /= self.diagonal[i];
            let (first, known) = (self.profile.first[i] as usize, x[i]);
            for (value, u) in x[first..i].iter_mut().zip(&self.upper[self.profile.row(i)]) {
                *value -= u * known;
            }
        }
        for (value, &place) in values.iter_mut().zip(&self.profile.place) {
            *value = x[place as usize];
        }
    }
}

/// A pivot was not above zero.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) struct NotStable;

fn dot(a: &[f64], b: &[f64]) -> f64 {
    a.iter().zip(b).map(|(a, b)| a * b).sum()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Against elimination on the full matrix: a grid of 5 × 6 with unlike values both ways, and a hub at the end.
    #[test]
    fn as_full_elimination() {
        let (wide, high) = (5u32, 6u32);
        let n = (wide * high) as usize;
        let mut links = Vec::new();
        for y in 0..high {
            for x in 0..wide {
                let at = y * wide + x;
                if x + 1 < wide {
                    links.push((at, at + 1));
                }
                if y + 1 < high {
                    links.push((at + wide, at));
                }
                if (x + y) % 3 == 0 {
                    links.push((at, n as u32));
                }
            }
        }
        let profile = Arc::new(Profile::new(n + 1, &links, 1));
        let mut matrix = Matrix::new(&profile);
        let mut full = vec![vec![0.0; n + 2]; n + 1];
        for (k, &(a, b)) in links.iter().enumerate() {
            let (a, b) = (a as usize, b as usize);
            let (one, other) = (0.3 + 0.01 * k as f64, 0.7 - 0.005 * k as f64);
            // The slopes of a flow and a loss of 0.1 on either side.
            matrix.couple(profile.coupling(a, b), other, one);
            for (row, column, value) in [(a, b, -one), (b, a, -other), (a, a, other + 0.1), (b, b, one + 0.1)] {
                full[row][column] += value;
            }
            for at in [a, b] {
                matrix.add(at, at, 0.1);
            }
        }
        for held in [None, Some(7)] {
            let (mut matrix, mut full) = (matrix.clone(), full.clone());
            if let Some(row) = held {
                matrix.hold(row);
                full[row].fill(0.0);
                full[row][row] = 1.0;
            }
            let right: Vec<f64> = (0..=n).map(|i| (i as f64).sin()).collect();
            for (row, value) in full.iter_mut().zip(&right) {
                row[n + 1] = *value;
            }
            for i in 0..=n {
                for j in 0..=n {
                    if j != i {
                        let share = full[j][i] / full[i][i];
                        let pivot = full[i].clone();
                        for (value, p) in full[j].iter_mut().zip(&pivot) {
                            *value -= share * p;
                        }
                    }
                }
            }
            let mut x = right;
            matrix.factor().expect("stable");
            matrix.solve(&mut x);
            for (i, x) in x.iter().enumerate() {
                assert!((x - full[i][n + 1] / full[i][i]).abs() < 1e-10, "{i}");
            }
        }
    }

    /// Heat that grows faster than it is lost has a pivot below zero; two parts without a link are factored too.
    #[test]
    fn not_stable() {
        let profile = Arc::new(Profile::new(4, &[(0, 1), (2, 3)], 0));
        for (own, stable) in [(1.001, true), (0.999, false)] {
            let mut matrix = Matrix::new(&profile);
            for i in 0..4 {
                matrix.add(i, i, own);
                matrix.add(i, i ^ 1, -1.0);
            }
            assert_eq!(matrix.factor().is_ok(), stable);
        }
    }
}
