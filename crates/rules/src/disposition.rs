//! Accepted findings: they stay listed, and reopen when they get worse, fail in a further phase, or expire.

use crate::{Case, passes};
use model::*;

/// Applies the vehicle's dispositions; gives back the rows whose finding does not exist.
pub(crate) fn apply(case: &Case, findings: &mut [Finding]) -> Vec<usize> {
    let mut idle = Vec::new();
    for (row, disposition) in case.design.dispositions.iter().enumerate() {
        match findings.iter_mut().find(|finding| finding.id == *disposition.finding.value) {
            // What a sweep finds is not looked for without one.
            None if crate::is_of_sweep(&disposition.finding.value) => {}
            None => idle.push(row),
            Some(finding) => {
                finding.state = match reason_to_reopen(case, disposition, finding) {
                    Some(reason) => FindingState::Reopened(row, reason),
                    None => FindingState::Accepted(row),
                }
            }
        }
    }
    idle
}

fn reason_to_reopen(case: &Case, disposition: &Disposition, finding: &Finding) -> Option<String> {
    if let (Some(expiry), Some(today)) = (&disposition.expiry, case.today)
        && today > &*expiry.value
    {
        return Some(format!("expired on {}, and today is {today}", expiry.value));
    }
    if let (Some(worst), Some(margin)) = (&disposition.worst, &finding.margin)
        && !passes(margin.value, worst.value, margin.bound)
    {
        return Some(format!("the value is worse than the one accepted, {}", worst.value));
    }
    let covered = |phase| disposition.phases.is_empty() || disposition.phases.iter().any(|p| p.value == phase);
    let further = finding.phases.iter().find(|&&(phase, _)| !covered(phase));
    further.map(|&(phase, _)| format!("fails also in phase {}, which was not accepted", case.design.phases[phase].name))
}
