//! What stands on a month's list and was only moved: put back into units, decided to be reclaimed once
//! more, shipped. It is in no sum; the list says by which section it does not count.

use domain::book::month::Month;
use domain::book::outcome::Measure;
use domain::fact::Fitness;
use domain::waste::Came;
use storage::{FlowLine, Read};

use super::{Listed, OnSite, listed};
use crate::WebError;

/// The measures of it, in the order they are told.
pub(super) const ONLY_MOVED: [(Measure, &str); 3] = [
    (Measure::Reused, "Put back into units"),
    (Measure::ReclaimedAgain, "Reclaimed once more"),
    (Measure::Shipped, "Shipped from storage"),
];

/// Lines that are read at once.
const AT_ONCE: i64 = 500;

/// How the lines of a measure came to stand on the list of a month; none where they do not.
pub(super) const fn came(measure: Measure) -> Option<Came> {
    match measure {
        Measure::BecameWaste => Some(Came::AsWaste),
        Measure::Reclaimed => Some(Came::ToBeReclaimed),
        Measure::ReclaimedAgain => Some(Came::ReclaimedAgain),
        Measure::Reused => Some(Came::PutBack),
        Measure::Shipped => Some(Came::Shipped),
        _ => None,
    }
}

/// The measure under which what was only moved is kept; none for what was generated.
pub(super) const fn measure(came: Came) -> Option<Measure> {
    match came {
        Came::PutBack | Came::BackReclaimed => Some(Measure::Reused),
        Came::ReclaimedAgain => Some(Measure::ReclaimedAgain),
        Came::Shipped => Some(Measure::Shipped),
        Came::AsWaste | Came::Undecided | Came::ToBeReclaimed => None,
    }
}

/// The word for it in files.
pub(super) const fn word(came: Came) -> &'static str {
    match came {
        Came::AsWaste => "became waste",
        Came::Undecided => "undecided",
        Came::ToBeReclaimed => "to be reclaimed",
        Came::ReclaimedAgain => "reclaimed once more",
        Came::PutBack => "put back",
        Came::BackReclaimed => "put back after reclaiming",
        Came::Shipped => "shipped from storage",
    }
}

/// All of it in a month of the site, in the order of days and of the record.
pub(super) async fn of_month(
    read: &mut Read,
    site: &OnSite,
    month: Month,
) -> Result<Vec<Listed>, WebError> {
    let days = (month.first_day(), month.last_day());
    let mut all = Vec::new();
    for measure in [Measure::ReclaimedAgain, Measure::Shipped] {
        let lines = read.list_waste_lines(&site.shop_ids(), measure, days).await;
        all.extend(as_listed(measure, lines.map_err(WebError::fault)?));
    }
    for shop in site.shop_ids() {
        let mut after = (0, -1);
        loop {
            let asked = (shop, month, Measure::Reused);
            let lines = read.list_month_lines(asked, after, AT_ONCE).await;
            let lines = lines.map_err(WebError::fault)?;
            let Some(last) = lines.last() else { break };
            after = (last.seq, last.n);
            all.extend(as_listed(Measure::Reused, lines));
        }
    }
    all.sort_by_key(|listed| (listed.line.day, listed.line.seq, listed.line.n));
    Ok(all)
}

/// Lines of a measure as they stand on the list. What came out of a batch that was decided to be reclaimed
/// was counted by that.
pub(super) fn as_listed(measure: Measure, lines: Vec<FlowLine>) -> Vec<Listed> {
    let came = came(measure).unwrap_or(Came::AsWaste);
    let all = lines.into_iter().map(|line| {
        let came = match line.batch {
            Some(Fitness::Reclaim) if came == Came::PutBack => Came::BackReclaimed,
            _ => came,
        };
        listed(line, came)
    });
    all.collect()
}
