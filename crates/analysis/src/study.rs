//! What `check` needs: every phase in every corner.

use crate::protection::{Protection, protection};
use crate::timeline::{Fineness, Timeline, timeline};
use crate::{Prepared, prepare};
use model::*;
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Which stages [`run`] computes. A stage not asked for is `None` in the study, and its rules say *not judged*.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stages {
    /// Faults of fed wires.
    pub protection: bool,
    /// The batteries through the mission.
    pub timeline: bool,
}

impl Stages {
    /// What `check` computes.
    pub const CHECK: Stages = Stages { protection: true, timeline: true };
}

/// Every phase in every corner.
pub struct Study<'d> {
    /// The prepared design.
    pub prepared: Prepared<'d>,
    /// Points in the order phase, then corner (low, typical, high).
    pub points: Vec<Point>,
    /// Faults of fed wires.
    pub protection: Option<Protection>,
    /// The batteries through the mission.
    pub timeline: Option<Timeline>,
}

/// Progress and cancelling of long work.
pub trait Watch: Sync {
    /// Called with work done and work in all, from any thread.
    fn progress(&self, done: usize, total: usize);
    /// Whether to stop early.
    fn cancelled(&self) -> bool;
}

/// Neither reports nor cancels.
pub struct Silent;
impl Watch for Silent {
    fn progress(&self, _done: usize, _total: usize) {}
    fn cancelled(&self) -> bool {
        false
    }
}

/// Every phase in every corner, in parallel, in an order that no thread count changes. `None` if the watch cancelled.
///
/// Cost: one [`Prepared::corners`] per phase; memory: every node and branch of every point, 8 bytes each. Protection: see [`crate::protection`].
pub fn run<'d>(design: &'d Design, stages: Stages, watch: &dyn Watch) -> Option<Study<'d>> {
    let prepared = prepare(design);
    let phases: Vec<Id<Phase>> = design.phases.ids().collect();
    let done = AtomicUsize::new(0);
    let points: Option<Vec<[Point; 3]>> = phases
        .par_iter()
        .map(|&phase| {
            if watch.cancelled() {
                return None;
            }
            let points = prepared.corners(phase);
            let count = Corner::ALL.len();
            watch.progress(done.fetch_add(count, Ordering::Relaxed) + count, count * phases.len());
            Some(points)
        })
        .collect();
    let points: Vec<Point> = points?.into_iter().flatten().collect();
    let (protection, timeline) = rayon::join(
        || stages.protection.then(|| protection(&prepared, &points, watch)),
        || stages.timeline.then(|| timeline(&prepared, &points, Fineness::USUAL, watch)),
    );
    if watch.cancelled() {
        return None;
    }
    let protection = match protection {
        Some(found) => Some(found?),
        None => None,
    };
    Some(Study { prepared, points, protection, timeline })
}
