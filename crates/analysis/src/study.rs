//! What `check` needs: every phase in every corner.

use crate::protection::{Protection, protection};
use crate::{Prepared, prepare};
use model::*;
use rayon::prelude::*;
use std::sync::atomic::{AtomicUsize, Ordering};

/// Which stages [`run`] computes. A stage not asked for is `None` in the study, and its rules say *not judged*.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Stages {
    /// Faults of fed wires.
    pub protection: bool,
}

impl Stages {
    /// What `check` computes.
    pub const CHECK: Stages = Stages { protection: true };
}

/// Every phase in every corner.
pub struct Study<'d> {
    /// The prepared design.
    pub prepared: Prepared<'d>,
    /// Points in the order phase, then corner (low, typical, high).
    pub points: Vec<Point>,
    /// Faults of fed wires.
    pub protection: Option<Protection>,
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
/// Cost: one [`Prepared::point`] per phase and corner; memory: every node and branch of every point, 8 bytes each.
pub fn run<'d>(design: &'d Design, stages: Stages, watch: &dyn Watch) -> Option<Study<'d>> {
    let prepared = prepare(design);
    let scenarios: Vec<Scenario> = design.phases.ids().flat_map(|phase| Corner::ALL.map(|corner| Scenario::new(phase, corner))).collect();
    let done = AtomicUsize::new(0);
    let points: Option<Vec<Point>> = scenarios
        .par_iter()
        .map(|scenario| {
            if watch.cancelled() {
                return None;
            }
            let point = prepared.point(scenario);
            watch.progress(done.fetch_add(1, Ordering::Relaxed) + 1, scenarios.len());
            Some(point)
        })
        .collect();
    let points = points?;
    let protection = match stages.protection {
        true => Some(protection(&prepared, &points, watch)?),
        false => None,
    };
    Some(Study { prepared, points, protection })
}
