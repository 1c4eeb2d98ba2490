//! Currents that come in pulses: the mean square that heats a wire, and the worst course of pulses that are slow.
//!
//! Pulses of one group, or of none, may come at the same time and are taken to: that is where the sum of their squares is greatest. Those of
//! two groups never do. Currents of loads that pulse together add up in a wire.

use crate::{Ampere, Second};

/// What a load that pulses adds to the current of a wire.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Pulse {
    /// Signed as the wire's steady current.
    pub current: Ampere,
    /// When it comes.
    pub rhythm: Rhythm,
}

/// When pulses come.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rhythm {
    /// How long one lasts.
    pub on: Second,
    /// From the beginning of one to that of the next.
    pub period: Second,
    /// Group that it belongs to; one of none may come with any.
    pub group: Option<u32>,
}

impl Rhythm {
    /// Share of the time.
    pub fn duty(&self) -> f64 {
        (self.on.0 / self.period.0).min(1.0)
    }

    /// Whether pulses of both may be there at the same time.
    pub fn may_meet(&self, other: &Rhythm) -> bool {
        self.group.is_none() || other.group.is_none() || self.group == other.group
    }
}

/// Mean of the square of the current over a long time, A².
///
/// I₀² + 2 I₀ Σ d_c I_c + Σ Σ m(c, c′) I_c I_c′, where m is the share of the time in which both are there: d_c for c = c′; the lesser of the
/// two, for pulses that meet; nothing, for groups that never do. Of currents that lessen each other m is the least that it can be.
///
/// # Units     (A) → (A²)
/// # Validity  An upper bound over the times at which pulses may begin; exact for one pulse.
/// # Source    Computed: of two shares of the time, the greatest common one is the lesser, and the least is what they are more than the whole.
pub fn mean_square(steady: Ampere, pulses: &[Pulse]) -> f64 {
    let mut sum = steady.0 * steady.0;
    for (c, one) in pulses.iter().enumerate() {
        let duty = one.rhythm.duty();
        sum += duty * one.current.0 * (one.current.0 + 2.0 * steady.0);
        for other in pulses[c + 1..].iter().filter(|other| one.rhythm.may_meet(&other.rhythm)) {
            let product = one.current.0 * other.current.0;
            let common = if product > 0.0 { duty.min(other.rhythm.duty()) } else { (duty + other.rhythm.duty() - 1.0).max(0.0) };
            sum += 2.0 * common * product;
        }
    }
    sum.max(0.0)
}

/// Greatest current that pulses and the steady current come to, without sign.
pub fn peak(steady: Ampere, pulses: &[Pulse]) -> Ampere {
    let toward = |sign: f64| {
        let of = |group: Option<u32>| {
            let own = pulses.iter().filter(|pulse| pulse.rhythm.group == group);
            own.map(|pulse| (sign * pulse.current.0).max(0.0)).sum::<f64>()
        };
        let most = groups(pulses.iter().map(|pulse| pulse.rhythm)).into_iter().map(|group| of(Some(group))).fold(0.0, f64::max);
        (sign * steady.0 + of(None) + most).abs()
    };
    Ampere(toward(1.0).max(toward(-1.0)).max(steady.0.abs()))
}

/// A time in the worst course, and which pulses are there.
#[derive(Clone, Debug, PartialEq)]
pub struct Spell {
    /// How long.
    pub lasts: Second,
    /// Of each rhythm, whether its pulse is there.
    pub on: Vec<bool>,
}

/// A course that repeats: rest, then the groups one after the other, `last` last, those of a group ending together; pulses of no group come
/// with the last one.
///
/// It repeats with the shortest of the periods, so that the others come more often than they do; where pulses take longer than that, without rest.
///
/// # Source    Computed: heat that comes late counts most at the end.
pub fn worst_course(rhythms: &[Rhythm], last: Option<u32>) -> Vec<Spell> {
    let mut order: Vec<Option<u32>> = groups(rhythms.iter().copied()).into_iter().map(Some).filter(|group| *group != last).collect();
    order.push(last);
    let mut spells: Vec<Spell> = Vec::new();
    for group in order {
        let comes = |rhythm: &Rhythm| rhythm.group == group || (group == last && rhythm.group.is_none());
        let mut starts: Vec<f64> = rhythms.iter().filter(|rhythm| comes(rhythm)).map(|rhythm| rhythm.on.0).collect();
        starts.sort_by(|a, b| b.total_cmp(a));
        starts.dedup();
        for (at, left) in starts.iter().enumerate() {
            let lasts = left - starts.get(at + 1).copied().unwrap_or(0.0);
            let on = rhythms.iter().map(|rhythm| comes(rhythm) && rhythm.on.0 >= *left).collect();
            spells.push(Spell { lasts: Second(lasts), on });
        }
    }
    let busy: f64 = spells.iter().map(|spell| spell.lasts.0).sum();
    let period = rhythms.iter().map(|rhythm| rhythm.period.0).fold(f64::INFINITY, f64::min);
    if period.is_finite() && period > busy {
        spells.insert(0, Spell { lasts: Second(period - busy), on: vec![false; rhythms.len()] });
    }
    spells
}

/// Groups, each once, in rising order.
pub fn groups(rhythms: impl Iterator<Item = Rhythm>) -> Vec<u32> {
    let mut all: Vec<u32> = rhythms.filter_map(|rhythm| rhythm.group).collect();
    all.sort_unstable();
    all.dedup();
    all
}

#[cfg(test)]
mod tests {
    use super::*;

    fn rhythm(on: f64, period: f64, group: Option<u32>) -> Rhythm {
        Rhythm { on: Second(on), period: Second(period), group }
    }

    fn pulse(current: f64, on: f64, period: f64, group: Option<u32>) -> Pulse {
        Pulse { current: Ampere(current), rhythm: rhythm(on, period, group) }
    }

    fn near(value: f64, expected: f64) {
        assert!((value - expected).abs() <= 1e-12, "{value} is not {expected}");
    }

    /// By hand. 1 A and 10 A more for a tenth of the time: 0.1 · 121 + 0.9 · 1 = 13 A². Two of 10 A for a tenth: together 0.1 · 400 = 40, never
    /// together 2 · 0.1 · 100 = 20. One for a tenth beside one for a half of 5 A: 0.1 · 225 + 0.4 · 25 = 32.5. A return that carries the one forth and
    /// the other back, 60 % each: at least 20 % at once, 0.4 · 100 + 0.4 · 100 = 80.
    #[test]
    fn mean_squares_by_hand() {
        near(mean_square(Ampere(1.0), &[pulse(10.0, 0.1, 1.0, None)]), 13.0);
        near(mean_square(Ampere(0.0), &[pulse(10.0, 1.0, 5.0, None)]), 20.0);
        near(mean_square(Ampere(5.0), &[pulse(5.0, 1.0, 5.0, None)]), 40.0);
        near(mean_square(Ampere(-1.0), &[pulse(-10.0, 0.1, 1.0, None)]), 13.0);
        near(mean_square(Ampere(1.0), &[pulse(-2.0, 0.5, 1.0, None)]), 1.0);
        near(mean_square(Ampere(0.0), &[pulse(10.0, 0.1, 1.0, None), pulse(10.0, 0.2, 2.0, None)]), 40.0);
        near(mean_square(Ampere(0.0), &[pulse(10.0, 0.1, 1.0, Some(0)), pulse(10.0, 0.2, 2.0, Some(0))]), 40.0);
        near(mean_square(Ampere(0.0), &[pulse(10.0, 0.1, 1.0, Some(0)), pulse(10.0, 0.2, 2.0, Some(1))]), 20.0);
        near(mean_square(Ampere(0.0), &[pulse(10.0, 0.1, 1.0, Some(0)), pulse(5.0, 1.0, 2.0, None)]), 32.5);
        near(mean_square(Ampere(0.0), &[pulse(10.0, 0.6, 1.0, None), pulse(-10.0, 0.6, 1.0, None)]), 80.0);
        near(mean_square(Ampere(3.0), &[]), 9.0);
    }

    #[test]
    fn peaks_by_hand() {
        near(peak(Ampere(1.0), &[pulse(10.0, 0.1, 1.0, None), pulse(5.0, 0.1, 1.0, None)]).0, 16.0);
        near(peak(Ampere(1.0), &[pulse(10.0, 0.1, 1.0, Some(0)), pulse(5.0, 0.1, 1.0, Some(1))]).0, 11.0);
        near(peak(Ampere(1.0), &[pulse(10.0, 0.1, 1.0, Some(0)), pulse(5.0, 0.1, 1.0, None)]).0, 16.0);
        near(peak(Ampere(1.0), &[pulse(-10.0, 0.1, 1.0, None)]).0, 9.0);
        near(peak(Ampere(-4.0), &[]).0, 4.0);
    }

    /// Two of one group, 2 s and 5 s, end together; the other group of 1 s comes before them; the rest of 20 s is quiet.
    #[test]
    fn the_last_group_ends_the_course() {
        let all = [rhythm(2.0, 20.0, Some(7)), rhythm(5.0, 30.0, Some(7)), rhythm(1.0, 40.0, Some(3))];
        let spells = worst_course(&all, Some(7));
        let plain: Vec<(f64, Vec<bool>)> = spells.into_iter().map(|spell| (spell.lasts.0, spell.on)).collect();
        assert_eq!(
            plain,
            [
                (14.0, vec![false, false, false]),
                (1.0, vec![false, false, true]),
                (3.0, vec![false, true, false]),
                (2.0, vec![true, true, false])
            ]
        );
        let other = worst_course(&all, Some(3));
        assert_eq!(other.last(), Some(&Spell { lasts: Second(1.0), on: vec![false, false, true] }));
        // Of no group, with the last; longer than the period, without rest.
        let free = worst_course(&[rhythm(4.0, 5.0, None), rhythm(3.0, 5.0, Some(0)), rhythm(2.0, 9.0, Some(1))], Some(0));
        assert_eq!(free.iter().map(|spell| spell.lasts.0).collect::<Vec<_>>(), [2.0, 1.0, 3.0]);
        assert_eq!(free[2].on, [true, true, false]);
    }
}
