//! What there is to say about a vessel before it is used: full, out of date, mixed, without a date.

use super::composition::foreign_share;
use crate::book::component::{Base, InhibitorClass};
use crate::book::contents::Contents;
use crate::fleet::{Holds, Vessel, VesselKind};
use crate::waste::Stated;
use chrono::NaiveDate;

/// What a vessel holds, as far as these remarks depend on it.
#[derive(Clone, Copy, PartialEq, Eq, Debug)]
pub struct HeldNow<'a> {
    /// By component.
    pub contents: &'a Contents,
    /// Mixed, at 20 °C, mL.
    pub shown_ml: i64,
    /// Fluid judged unfit went in.
    pub unfit: bool,
    /// When it is next due by the last inspection logged, or the day it failed one.
    pub inspected_until: Option<NaiveDate>,
    /// What it was dedicated to when it was last cleaned out.
    pub dedicated: Option<(Base, InhibitorClass)>,
}

/// One remark.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Debug)]
pub enum VesselRemark {
    /// More than one base, fluid of another class, or unfit fluid in a vessel kept for reuse.
    Mixed,
    /// Its inspection as a pressure vessel is out of date.
    OutOfDate,
    /// It holds more than its fill limit.
    OverFillLimit,
    /// It holds waste and has no start date.
    NoStartDate,
    /// It is filled up to its limit.
    Full,
    /// It is filled to nine tenths of its limit: our own default, no source.
    NearlyFull,
    /// Nobody has opened or dipped it.
    ContentsUnknown,
}

impl VesselRemark {
    /// The words on a page.
    pub fn words(self) -> &'static str {
        match self {
            Self::Mixed => "Mixed: do not use",
            Self::OutOfDate => "Out of date",
            Self::OverFillLimit => "Over its fill limit",
            Self::NoStartDate => "No start date",
            Self::Full => "Full",
            Self::NearlyFull => "Nearly full",
            Self::ContentsUnknown => "Contents unknown",
        }
    }
}

/// So much of another kind is no more than what clings to the walls: 1 % (decided from memory, to be
/// confirmed by the shop).
const FOREIGN_SHARE_MILLIONTHS: i32 = 10_000;

/// Everything there is to say, the gravest first, by its card and what was stated of it.
pub fn remarks(
    (card, stated): (&Vessel, &Stated),
    held: Option<HeldNow<'_>>,
    today: NaiveDate,
) -> Vec<VesselRemark> {
    let mut remarks = Vec::new();
    let kept_for_use = matches!(card.holds, Holds::Fresh | Holds::Recovered);
    if let Some(held) = held
        && kept_for_use
        && (held.unfit || is_mixed(card, held))
    {
        remarks.push(VesselRemark::Mixed);
    }
    if is_out_of_date(card, held, today) {
        remarks.push(VesselRemark::OutOfDate);
    }
    let shown_ml = held.map_or(0, |held| held.shown_ml);
    remarks.extend(fullness(card, shown_ml));
    if card.holds == Holds::Waste && stated.lacks_start_date() && shown_ml > 0 {
        remarks.push(VesselRemark::NoStartDate);
    }
    if held.is_none() {
        remarks.push(VesselRemark::ContentsUnknown);
    }
    remarks.sort_unstable();
    remarks
}

/// The day its inspection as a pressure vessel is due: by the last one logged, else by its card.
pub fn inspection_due(card: &Vessel, held: Option<HeldNow<'_>>) -> Option<NaiveDate> {
    let on_card = card.pressure_vessel.as_ref().and_then(|data| data.next_due);
    held.and_then(|held| held.inspected_until).or(on_card)
}

/// Whether its inspection is out of date: from the day it was due, as the book asks about it.
pub fn is_out_of_date(card: &Vessel, held: Option<HeldNow<'_>>, today: NaiveDate) -> bool {
    inspection_due(card, held).is_some_and(|due| today >= due)
}

fn fullness(card: &Vessel, shown_ml: i64) -> Option<VesselRemark> {
    let limit = card
        .fill_limit
        .as_ref()
        .or(card.capacity.as_ref())?
        .value
        .ml();
    if shown_ml > limit {
        Some(VesselRemark::OverFillLimit)
    } else if shown_ml == limit && limit > 0 {
        Some(VesselRemark::Full)
    } else if shown_ml.saturating_mul(10) >= limit.saturating_mul(9) && limit > 0 {
        Some(VesselRemark::NearlyFull)
    } else {
        None
    }
}

/// So much of its limit, or less, is nearly empty: a tenth, as nine tenths are nearly full.
const NEARLY_EMPTY_TENTHS: i64 = 1;

/// Whether a cart that units are filled from has next to nothing left in it, when it holds so much.
pub fn is_nearly_empty(card: &Vessel, shown_ml: i64) -> bool {
    let kept_for_use = matches!(card.holds, Holds::Fresh | Holds::Recovered);
    let limit = card.fill_limit.as_ref().or(card.capacity.as_ref());
    card.kind == VesselKind::Cart
        && kept_for_use
        && limit.is_some_and(|limit| {
            let tenth = limit.value.ml().saturating_mul(NEARLY_EMPTY_TENTHS);
            shown_ml.saturating_mul(10) <= tenth
        })
}

/// Whether more than a trace of its concentrate is of another base or class than its card says, or
/// than the most of it where the card does not say.
fn is_mixed(card: &Vessel, held: HeldNow<'_>) -> bool {
    let meant = held.dedicated.unwrap_or((card.base, card.class));
    foreign_share(held.contents, meant)
        .is_some_and(|foreign| foreign.millionths() > FOREIGN_SHARE_MILLIONTHS)
}

#[cfg(test)]
mod tests {
    use super::{HeldNow, VesselRemark, is_out_of_date, remarks};
    use crate::book::component::{Base, InhibitorClass};
    use crate::book::contents::Contents;
    use crate::fleet::{Holds, PressureVessel, Vessel, VesselKind};
    use crate::ids::{PlaceId, ShopId};
    use crate::quantity::entry::read;
    use crate::waste::Stated;
    use chrono::NaiveDate;
    use uuid::Uuid;

    fn day(text: &str) -> NaiveDate {
        text.parse().unwrap()
    }

    fn of(holds: Holds, held: Option<HeldNow<'_>>, today: NaiveDate) -> Vec<VesselRemark> {
        remarks((&cart(holds), &Stated::default()), held, today)
    }

    #[test]
    fn a_cart_that_units_are_filled_from_is_nearly_empty_at_a_tenth_of_its_limit() {
        let limit = cart(Holds::Fresh).fill_limit.map(|limit| limit.value.ml());
        let tenth = limit.unwrap() / 10;
        for holds in [Holds::Fresh, Holds::Recovered] {
            assert!(super::is_nearly_empty(&cart(holds), tenth));
            assert!(!super::is_nearly_empty(&cart(holds), tenth + 1));
        }
        // Empty waste carts and drums are as they should be.
        assert!(!super::is_nearly_empty(&cart(Holds::Waste), 0));
        let drum = Vessel {
            kind: VesselKind::Drum,
            ..cart(Holds::Fresh)
        };
        assert!(!super::is_nearly_empty(&drum, 0));
    }

    fn cart(holds: Holds) -> Vessel {
        Vessel {
            id: PlaceId(Uuid::from_u128(1)),
            name: "Cart A".to_owned(),
            kind: VesselKind::Cart,
            shop: ShopId(Uuid::from_u128(2)),
            capacity: Some(read("100 L").unwrap()),
            fill_limit: Some(read("90 L").unwrap()),
            holds,
            base: Base::Eg,
            class: InhibitorClass::Oat,
            start_date: None,
            pressure_vessel: Some(PressureVessel {
                next_due: Some(day("2026-10-05")),
                ..PressureVessel::default()
            }),
        }
    }

    #[test]
    fn a_vessel_is_nearly_full_at_nine_tenths_of_its_limit_and_over_it_above() {
        let contents = Contents::of(Base::Eg, InhibitorClass::Oat, 80_000, 500_000);
        for (shown_ml, remark) in [
            (80_999, None),
            (81_000, Some(VesselRemark::NearlyFull)),
            (90_000, Some(VesselRemark::Full)),
            (90_001, Some(VesselRemark::OverFillLimit)),
        ] {
            let filled = HeldNow {
                shown_ml,
                ..held(&contents, false)
            };
            let said = of(Holds::Recovered, Some(filled), day("2026-10-04"));
            assert_eq!(said, Vec::from_iter(remark), "{shown_ml}");
        }
    }

    #[test]
    fn it_is_out_of_date_from_the_day_it_was_due_and_a_logged_inspection_counts_more_than_the_card()
    {
        let said = |today| of(Holds::Fresh, None, day(today));
        assert_eq!(said("2026-10-04"), [VesselRemark::ContentsUnknown]);
        assert_eq!(
            said("2026-10-05"),
            [VesselRemark::OutOfDate, VesselRemark::ContentsUnknown]
        );
        let contents = Contents::nothing();
        let until = |due| HeldNow {
            inspected_until: Some(day(due)),
            ..held(&contents, false)
        };
        let today = day("2026-11-01");
        let card = cart(Holds::Fresh);
        assert!(!is_out_of_date(&card, Some(until("2027-10-05")), today));
        assert!(is_out_of_date(&card, Some(until("2026-11-01")), today));
    }

    fn held(contents: &Contents, unfit: bool) -> HeldNow<'_> {
        HeldNow {
            contents,
            shown_ml: 1,
            unfit,
            inspected_until: None,
            dedicated: None,
        }
    }

    #[test]
    fn more_than_a_trace_of_another_kind_makes_it_mixed_unless_it_is_kept_for_waste() {
        let mut contents = Contents::of(Base::Eg, InhibitorClass::Oat, 99_000, 1_000_000);
        contents.add(&Contents::of(
            Base::Pg,
            InhibitorClass::Oat,
            1_000,
            1_000_000,
        ));
        let today = day("2026-10-04");
        assert_eq!(
            of(Holds::Recovered, Some(held(&contents, false)), today),
            []
        );
        assert_eq!(
            of(Holds::Recovered, Some(held(&contents, true)), today),
            [VesselRemark::Mixed]
        );
        contents.add(&Contents::of(
            Base::Eg,
            InhibitorClass::Hoat,
            100,
            1_000_000,
        ));
        assert_eq!(
            of(Holds::Recovered, Some(held(&contents, false)), today),
            [VesselRemark::Mixed]
        );
        let dedicated = HeldNow {
            dedicated: Some((Base::Pg, InhibitorClass::Oat)),
            ..held(&contents, false)
        };
        assert_eq!(
            of(Holds::Recovered, Some(dedicated), today),
            [VesselRemark::Mixed]
        );
        assert_eq!(
            of(Holds::Waste, Some(held(&contents, true)), today),
            [VesselRemark::NoStartDate]
        );
    }
}
