//! The way to each load and back, in one state, and which protectors stand on it.

use crate::case::Missing;
use crate::{Case, Worst};
use model::*;
use std::borrow::Cow;
use std::sync::Arc;

/// Ways of a state.
pub(crate) struct Feeds {
    /// Of each load and converter that is on and fed: the protectors that its current comes through, the source's first.
    pub(crate) ways: Vec<(ElementId, Vec<Id<Protector>>)>,
    /// Of each protector, the rows of `ways` that go through it.
    pub(crate) behind: Column<Protector, Vec<usize>>,
    /// Of each row of `ways` all that it passes, there and back.
    pub(crate) ladders: Vec<Ladder>,
    row_of: Column<Load, Option<u32>>,
}

impl Feeds {
    /// Ways as `trace` prints them; worked out once for a state.
    ///
    /// Cost: a walk for each load and converter.
    pub(crate) fn of(case: &Case, point: &Point, out: &mut Worst) -> Arc<Feeds> {
        if let Some(feeds) = &out.feeds {
            return feeds.clone();
        }
        let design = case.design;
        let loads = design.loads.ids().filter(|id| is_on(point.load_state[*id])).map(ElementId::Load);
        let converters = design.converters.ids().filter(|id| is_on(point.converter_state[*id])).map(ElementId::Converter);
        let mut feeds = Feeds {
            ways: Vec::new(),
            behind: design.protectors.column(Vec::new()),
            ladders: Vec::new(),
            row_of: design.loads.column(None),
        };
        for element in loads.chain(converters) {
            let ladder = case.prepared.trace(point, element);
            let protectors: Vec<Id<Protector>> = ladder.feed.iter().filter_map(|step| protector(step.element)).collect();
            for protector in &protectors {
                feeds.behind[*protector].push(feeds.ways.len());
            }
            if let ElementId::Load(id) = element {
                feeds.row_of[id] = Some(feeds.ways.len() as u32);
            }
            feeds.ways.push((element, protectors));
            feeds.ladders.push(ladder);
        }
        let feeds = Arc::new(feeds);
        out.feeds = Some(feeds.clone());
        feeds
    }

    /// The way to a load and back; of one that is off or has let go it is walked.
    pub(crate) fn ladder<'f>(&'f self, case: &Case, point: &Point, load: Id<Load>) -> Cow<'f, Ladder> {
        match self.row_of[load] {
            Some(row) => Cow::Borrowed(&self.ladders[row as usize]),
            None => Cow::Owned(case.prepared.trace(point, ElementId::Load(load))),
        }
    }
}

fn is_on(state: LoadState) -> bool {
    matches!(state, LoadState::On | LoadState::Unknown)
}

fn protector(element: ElementId) -> Option<Id<Protector>> {
    match element {
        ElementId::Protector(id) => Some(id),
        _ => None,
    }
}

/// The type of a protector, or what is missing of it.
pub(crate) fn device_of(design: &Design, id: Id<Protector>) -> Result<&DeviceType, Missing> {
    if design.protectors[id].rating.is_none() {
        return Err(Missing::new("rating", "its rating is not stated"));
    }
    design.device(id).ok_or_else(|| Missing::new("device", "it names no type, so when it opens is not known"))
}

/// What a time or a held current of a device rests on.
pub(crate) fn device_notes(design: &Design, id: Id<Protector>, device: &DeviceType) -> Vec<NoteId> {
    let row = &design.protectors[id];
    let own = [row.rating.and_then(|rating| rating.note), row.device.and_then(|device| device.note), device.shift];
    own.into_iter().flatten().chain(device.notes.iter().copied()).collect()
}

/// `; shape assumed: scaled from 5 A`, or nothing.
pub(crate) fn shape_words(device: &DeviceType) -> String {
    device.shape_of.map_or(String::new(), |from| format!("; shape assumed: scaled from {} A", from.0))
}
