//! The papers behind the waste pages: rules chosen, coolant determined, other waste stated. All of it
//! is invented.

use chrono::NaiveDate;
use domain::book::month::Month;
use domain::fact::{Area, ContainerChange, ContainerEvent, Fact, Recorded, What};
use domain::ids::FactKey;
use domain::moment::{Precision, When};
use domain::quantity::entry::read;
use domain::waste::{Basis, Determination, Hazardous, OtherWaste, ProfileChosen, Stream};
use domain::words::Text;

use super::super::calendar::{At, DAY_0, FIRST_DAY, day};
use super::super::dice::Dice;
use super::super::floor::Floor;
use super::super::plan::{Plan, last_of_month};
use super::super::yards::Yard;
use super::super::{Made, Unmade, vessels};

/// With its coolant the coast yard is above 100 kg in every month, and so has a clock; the yard on
/// the hill has nothing but coolant.
const SOLVENT_KG: [&str; 3] = ["104.250 kg", "101.500 kg", "108.750 kg"];

/// Until a paper is filled in.
const WRITTEN_IN_MS: i64 = 90_000;

pub(super) fn plan(plan: &mut Plan) -> Made<()> {
    plan.story(FIRST_DAY, "06:10", rules)?;
    plan.story(FIRST_DAY, "06:20", areas)?;
    let last = day(DAY_0)?;
    let mut end = last_of_month(day(FIRST_DAY)?);
    while let Some(date) = end.filter(|date| *date < last) {
        plan.story(&date.to_string(), "16:20", other_waste)?;
        end = date.succ_opt().and_then(last_of_month);
    }
    Ok(())
}

fn rules(floor: &mut Floor, at: At) -> Made<()> {
    for yard in Yard::BOTH {
        let site = yard.site(floor.seed);
        let chosen = What::ProfileChosen(ProfileChosen {
            site,
            jurisdiction: "us-fed".to_owned(),
            from: at.date,
            way: None,
            on_hold: false,
            number: Some(yard.identity_number().to_owned()),
        });
        let determined = What::Determination(Determination {
            site,
            vessel: None,
            covers_from: at.date,
            hazardous: Hazardous::Yes,
            codes: vec!["D008".to_owned()],
            recycled: None,
            basis: Basis::Knowledge(words(
                "soldered radiators in part of the fleet, taken as over the limit for lead until a sheet says otherwise",
            )?),
        });
        for what in [chosen, determined] {
            put_down(floor, at, &format!("{} {}", what.kind(), yard.name()), what)?;
        }
    }
    Ok(())
}

/// In the officer's name, with dice of its own: papers must not change what happens in the yards.
fn put_down(floor: &mut Floor, at: At, name: &str, what: What) -> Made<()> {
    let mut dice = Dice::named(floor.seed, &format!("paper {name} {}", at.date));
    let by = floor.in_the_office("P12")?;
    floor.facts.push(Recorded {
        key: FactKey(dice.id()),
        received_at: at.moment.plus_ms(WRITTEN_IN_MS),
        fact: Fact {
            when: When {
                happened_at: at.moment,
                precision: Precision::Minute,
                local_date: at.date,
                utc_offset_min: at.offset_min,
                made_at: at.moment,
                clock_offset_ms: 0,
            },
            by,
            what,
        },
    });
    Ok(())
}

fn words(text: &str) -> Made<Text> {
    Text::plain(text).ok_or_else(|| Unmade::Calendar(text.to_owned()))
}

/// All waste drums stand in the central areas.
fn areas(floor: &mut Floor, at: At) -> Made<()> {
    for drum in ["D-5", "D-6", "D-7", "D-8"] {
        let vessel = vessels::id(floor.seed, drum);
        let event = ContainerChange::Placed(Area::Central);
        let what = What::ContainerEvent(ContainerEvent { vessel, event });
        put_down(floor, at, &format!("area {drum}"), what)?;
    }
    Ok(())
}

/// At the end of a month the officer says what other waste there was.
fn other_waste(floor: &mut Floor, at: At) -> Made<()> {
    for yard in Yard::BOTH {
        let stream = match yard {
            Yard::Upper => None,
            Yard::Harbour => Some(Stream {
                name: "parts washer solvent (invented)".to_owned(),
                mass: read(solvent(at.date)).map_err(|_| Unmade::Calendar("solvent".to_owned()))?,
                acute: false,
            }),
        };
        let what = What::OtherWaste(OtherWaste {
            site: yard.site(floor.seed),
            month: Month::of(at.date),
            stream,
        });
        put_down(floor, at, &format!("other waste {}", yard.name()), what)?;
    }
    Ok(())
}

fn solvent(date: NaiveDate) -> &'static str {
    use chrono::Datelike;
    let turn = usize::try_from(date.month0()).unwrap_or(0) % SOLVENT_KG.len();
    SOLVENT_KG.get(turn).copied().unwrap_or("104.250 kg")
}
