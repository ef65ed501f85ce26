//! Where fresh fluid comes from and where waste goes, so that no vessel runs dry or over.

use chrono::NaiveDate;
use domain::book::component::{Base, InhibitorClass};
use domain::fact::{ContainerChange, ContainerEvent, What};
use domain::job::{Account, Details, Fit, Intent, JobKind};

use super::calendar::{At, day};
use super::floor::{Arrival, Floor};
use super::sheet::{Bought, Sheet};
use super::typing::Measure;
use super::yards::Yard;
use super::{Made, fluids, vessels};

/// A fresh drum is filled up when less than this would be left, mL.
const LEAST_LEFT_ML: i64 = 9_000;
/// One delivery, mL.
const DELIVERY_ML: i64 = 60_000;
/// What a waste drum may hold before it is shipped, mL.
const WASTE_FULL_ML: i64 = 196_000;
/// The day drum D-5 was first put to use: 171 days before day 0.
pub(super) const D_5_START: &str = "2026-04-17";
/// What D-5 is filled to: 93 % of 208 L.
pub(super) const D_5_FULL_ML: i64 = 193_500;

/// What is left in a drum and is no load, mL.
const WORTH_A_LINE_ML: i64 = 5_000;
/// What stands on a drum of waste.
const LABEL_WORDS: &str = "Hazardous Waste: used antifreeze, toxic";

const D_5_FILLS_IN_DAYS: i64 = 145;

/// Where a loop's fresh fluid comes from.
#[derive(Clone, Copy, Debug)]
pub(super) enum Source {
    Drum(&'static str),
    Pail(Bought),
}

impl Floor {
    /// The fresh fluid for a loop in a yard.
    pub(super) fn source(&self, place: Account, number: u32, yard: Yard) -> Made<Source> {
        let kind = self
            .vehicle(number)?
            .card
            .loops
            .iter()
            .find(|each| Some(each.id) == place.place())
            .map_or((Base::Eg, InhibitorClass::Oat), |each| {
                (each.base, each.class)
            });
        let own_yard = self.vehicle(number)?.yard;
        Ok(match (kind, yard, own_yard) {
            ((Base::Eg, InhibitorClass::Oat), Yard::Upper, Yard::Upper) => Source::Drum("D-1"),
            ((Base::Eg, InhibitorClass::Noat), Yard::Harbour, Yard::Harbour) => Source::Drum("D-2"),
            ((Base::Eg, InhibitorClass::IatSca), Yard::Upper, _) => Source::Drum("D-4"),
            ((Base::Eg, InhibitorClass::Oat), Yard::Harbour, _) => Source::Drum("D-9"),
            (kind, _, own) => Source::Pail(Bought {
                kind,
                millionths: fluids::premix_strength(own),
            }),
        })
    }

    /// In the last half-year nearly everything goes back; what does not keeps drum D-5 filling
    /// up evenly. None before that.
    pub(super) fn puts_back_lately(&self, at: At, yard: Yard) -> Made<Option<bool>> {
        let days = at.date.signed_duration_since(day(D_5_START)?).num_days();
        if days < 0 {
            return Ok(None);
        }
        let meant = D_5_FULL_ML.min(D_5_FULL_ML * days / D_5_FILLS_IN_DAYS);
        let behind = self.level_ml(self.vessel("D-5")) < meant;
        Ok(Some(yard == Yard::Upper || !behind))
    }

    /// Pours fresh fluid into a loop; a drum that runs low is filled up first.
    pub(super) fn pour_fresh(
        &mut self,
        sheet: &mut Sheet,
        (source, to): (Source, Account),
        ml: i64,
        measure: Measure,
    ) -> Made<i64> {
        match source {
            Source::Drum(drum) => {
                self.keep_stocked(sheet.at, drum, ml)?;
                let from = self.vessel(drum);
                self.pour(sheet, (from, to), ml, measure)
            }
            Source::Pail(bought) => self.pour_bought(sheet, (Some(bought), to), ml, measure),
        }
    }

    /// A delivery into a drum before it would run low.
    pub(super) fn keep_stocked(&mut self, at: At, drum: &str, wanted_ml: i64) -> Made<()> {
        let place = self.vessel(drum);
        if self.level_ml(place) - wanted_ml >= LEAST_LEFT_ML {
            return Ok(());
        }
        let store = self.store(drum)?;
        let kind = (store.card.base, store.card.class);
        let millionths = store.opened_with.map_or(500_000, |(_, strength)| strength);
        let bought = Bought {
            kind,
            millionths: i32::try_from(millionths).unwrap_or(500_000),
        };
        let earlier = at.plus_minutes(-30)?;
        let mut sheet = self.vessel_sheet(earlier, JobKind::Receive, drum)?;
        sheet.arrival = Arrival::AtOnce;
        self.pour_bought(
            &mut sheet,
            (Some(bought), place),
            DELIVERY_ML,
            Measure::Litre,
        )?;
        self.file(sheet);
        Ok(())
    }

    /// Pours old fluid into the waste drums of a yard, shipping and dating them as it goes.
    pub(super) fn pour_waste(
        &mut self,
        sheet: &mut Sheet,
        from: Account,
        ml: i64,
        measure: Measure,
    ) -> Made<i64> {
        let mut left = ml;
        let mut typed = 0;
        while left > 0 {
            let (drum, room) = self.waste_drum(sheet.at, sheet.yard, left)?;
            let part = left.min(room);
            // A last litre is not worth a second drum.
            let part = if left - part < 1_000 { left } else { part };
            let how = if part < ml { Measure::Litre } else { measure };
            self.date_label(sheet.at, drum)?;
            let to = self.vessel(drum);
            typed += self.pour(sheet, (from, to), part, how)?;
            sheet.judged(Fit::Yes, Intent::Waste);
            left -= part;
        }
        Ok(typed)
    }

    /// The drum that takes waste now, with its room.
    fn waste_drum(&mut self, at: At, yard: Yard, ml: i64) -> Made<(&'static str, i64)> {
        if yard == Yard::Harbour && at.date >= day(D_5_START)? {
            let room = D_5_FULL_ML - self.level_ml(self.vessel("D-5"));
            if room >= 2_500 {
                return Ok(("D-5", room));
            }
        }
        let drum = match yard {
            Yard::Upper => "D-6",
            Yard::Harbour => "D-7",
        };
        let beside = self.goes_along(at, drum)?;
        let beside_ml = beside.map_or(0, |other| self.level_ml(self.vessel(other)));
        if self.level_ml(self.vessel(drum)) + beside_ml + ml > WASTE_FULL_ML {
            self.ship(at.plus_minutes(-25)?, drum)?;
        }
        Ok((drum, i64::MAX))
    }

    /// The first waste into a drum has its date written on the label.
    pub(super) fn date_label(&mut self, at: At, drum: &'static str) -> Made<()> {
        if self.dated.contains(&drum) {
            return Ok(());
        }
        self.label(at, drum, at.date)
    }

    /// Date and words are written on a drum.
    pub(super) fn label(&mut self, at: At, drum: &'static str, start: NaiveDate) -> Made<()> {
        self.dated.push(drum);
        let earlier = at.plus_minutes(-15)?;
        let person = self.somebody(self.store(drum)?.yard)?;
        for event in [
            ContainerChange::StartDate(start),
            // The words that 40 CFR 262.16(b)(6) asks for, and the hazard.
            ContainerChange::Labelled(LABEL_WORDS.to_owned()),
        ] {
            let by = self.on_a_tablet(person);
            let vessel = vessels::id(self.seed, drum);
            self.record(
                earlier,
                by,
                Arrival::AtOnce,
                What::ContainerEvent(ContainerEvent { vessel, event }),
            );
        }
        Ok(())
    }

    /// The drum that holds a part of what was in another, and leaves with it on one paper.
    fn goes_along(&self, at: At, drum: &str) -> Made<Option<&'static str>> {
        let of_story = drum == "D-7" && at.date < day(D_5_START)?;
        let holds = self.level_ml(self.vessel("D-5")) > WORTH_A_LINE_ML;
        Ok((of_story && holds).then_some("D-5"))
    }

    /// Ships a waste drum: it is dipped, the carrier pumps it out to the heel, and it is closed.
    pub(super) fn ship(&mut self, at: At, drum: &'static str) -> Made<()> {
        let place = self.vessel(drum);
        if self.level_ml(place) < 20_000 {
            return Ok(());
        }
        let yard = self.store(drum)?.yard;
        let mut sheet = self.vessel_sheet(at, JobKind::Ship, drum)?;
        sheet.by = self.in_the_office(yard.manager())?;
        sheet.arrival = Arrival::AtOnce;
        let dipped = self.dip(&mut sheet, drum)?;
        self.pour_at_20(&mut sheet, (place, Account::Carrier), dipped - 2_000)?;
        let along = self.goes_along(at, drum)?;
        if let Some(other) = along {
            let from = self.vessel(other);
            self.apart(&format!("load of {other}"), |floor| {
                let dipped = floor.dip(&mut sheet, other)?;
                floor.pour_at_20(&mut sheet, (from, Account::Carrier), dipped)?;
                // To the last drop, whatever the stick said: what fills it later begins from nothing.
                let left = floor.level_ml(from);
                floor.lose(from, left);
                Ok(())
            })?;
        }
        let number = self.dice.between(10_000, 99_999);
        sheet.details(Details::Ship {
            carrier: "Tarn Valley Reclaim (invented)".to_owned(),
            document: format!("DEMO-{number}"),
            destination: Some("Tarn Valley Reclaim, Old Quarry Works (invented)".to_owned()),
            treatment: Some("H020".to_owned()),
        });
        let emptied = along.map_or_else(|| drum.to_owned(), |other| format!("{drum} and {other}"));
        sheet.note(&format!("{emptied} emptied, {}", yard.name()));
        self.file(sheet);
        if let Some(other) = along {
            self.apart(&format!("{other} closed"), |floor| floor.close(at, other))?;
        }
        self.close(at, drum)
    }

    /// An emptied drum is closed; what goes in next is dated anew.
    fn close(&mut self, at: At, drum: &'static str) -> Made<()> {
        let by = self.in_the_office("P12")?;
        let vessel = vessels::id(self.seed, drum);
        self.record(
            at.plus_minutes(8)?,
            by,
            Arrival::AtOnce,
            What::ContainerEvent(ContainerEvent {
                vessel,
                event: ContainerChange::Closed,
            }),
        );
        self.dated.retain(|dated| *dated != drum);
        Ok(())
    }
}
