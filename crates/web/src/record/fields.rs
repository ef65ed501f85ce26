//! What a fact states, field by field and in words, and what it is about.

use domain::fact::{Area, ContainerChange, Fact, Fitness, MonthClosed, MovedToShop, What};
use domain::ids::FactKey;
use domain::job::Account;
use domain::quantity::UnitsOfMeasure;
use domain::waste::{Basis, Determination, Hazardous, OtherWaste, ProfileChosen, Recycled};
use domain::words::Text;
use uuid::Uuid;

use super::card::{Cards, Field, field};
use super::words::{kind_word, number};
use super::{Names, Wanted};
use crate::job::entered::{Wording, as_typed};

/// The subject whose earlier card a card is held against; none for what is no card.
pub(super) fn card_subject(what: &What) -> Option<Uuid> {
    match what {
        What::Site(site) => Some(site.id.0),
        What::Shop(shop) => Some(shop.id.0),
        What::Unit(unit) => Some(unit.id.0),
        What::Vessel(vessel) => Some(vessel.id.0),
        What::Fluid(fluid) => Some(fluid.id.0),
        What::Person(person) => Some(person.id.0),
        What::Roles(roles) => Some(roles.person.0),
        What::Instrument(instrument) => Some(instrument.id.0),
        What::MovedToShop(moved) => Some(match moved {
            MovedToShop::Unit { unit, .. } => unit.0,
            MovedToShop::Vessel { vessel, .. } => vessel.0,
            MovedToShop::Person { person, .. } => person.0,
        }),
        What::FitnessDecision(decision) => Some(decision.vessel.0),
        _ => None,
    }
}

/// The fact that a fact is about.
pub(super) fn fact_meant(what: &What) -> Option<FactKey> {
    match what {
        What::Void(void) => Some(void.job),
        What::Answer(answer) => Some(answer.question.job),
        What::TextRemoved(removed) => Some(removed.fact),
        What::Photo(photo) => Some(photo.job),
        What::PhotoRemoved(removed) => Some(removed.job),
        What::Said(said) => Some(said.question.job),
        What::LaboratoryResult(result) => Some(result.sample),
        What::Signed(signed) => Some(signed.fact),
        _ => None,
    }
}

/// Why it was recorded, where that is asked.
pub(super) fn reason(what: &What) -> Option<&Text> {
    match what {
        What::Unit(unit) => unit.reason.as_ref(),
        What::Void(void) => Some(&void.reason),
        What::Answer(answer) => answer.reason.as_ref(),
        What::Retired(retired) => retired.reason.as_ref(),
        What::FitnessDecision(decision) => decision.reason.as_ref(),
        What::PhotoRemoved(removed) => Some(&removed.reason),
        What::PutOff(put_off) => Some(&put_off.reason),
        What::NothingFound(looked) => Some(&looked.reason),
        What::Job(job) => job.replaces.as_ref().and_then(|old| old.reason.as_ref()),
        _ => None,
    }
}

/// All that a fact's page names, its person and reason too.
pub(super) fn want(wanted: &mut Wanted, fact: &Fact) {
    wanted.people.extend(fact.by.person);
    wanted.text(reason(&fact.what));
    match &fact.what {
        What::Job(job) => {
            wanted.text(job.note.as_ref());
            job.place.into_iter().for_each(|place| wanted.place(place));
            for line in &job.lines {
                wanted.line(line);
            }
        }
        What::Opening(opening) => wanted.place(opening.place),
        What::Person(person) => wanted.text(person.name.as_ref()),
        What::Photo(photo) => wanted.text(photo.caption.as_ref()),
        What::Said(said) => {
            wanted.people.extend(said.to);
            wanted.text(Some(&said.words));
        }
        What::Roles(roles) => wanted.people.extend([roles.person]),
        What::Retired(retired) => {
            retired.places.iter().for_each(|place| wanted.place(*place));
        }
        What::Merged(merged) => wanted.places.extend([merged.from, merged.into]),
        What::FitnessDecision(decision) => wanted.places.extend([decision.vessel]),
        What::ContainerEvent(event) => {
            wanted.places.extend([event.vessel]);
            if let ContainerChange::Inspected(found) = &event.event {
                wanted.text(found.as_ref());
            }
        }
        What::Determination(determination) => {
            wanted.places.extend(determination.vessel);
            if let Basis::Knowledge(words) = &determination.basis {
                wanted.text(Some(words));
            }
        }
        What::PutOff(put_off) => wanted.places.extend([put_off.place]),
        What::NothingFound(looked) => wanted.places.extend([looked.place]),
        What::ZeroCheck(checked) => wanted.instruments.extend([checked.instrument]),
        What::MovedToShop(MovedToShop::Vessel { vessel, .. }) => wanted.places.extend([*vessel]),
        What::MovedToShop(MovedToShop::Person { person, .. }) => wanted.people.extend([*person]),
        _ => {}
    }
}

/// What a fact is about, in a few words: "4204", "Cart A", "P3".
pub(super) fn subject(names: &Names, fact: &Fact, meant: Option<String>) -> String {
    match &fact.what {
        What::Site(site) => site.name.clone(),
        What::Shop(shop) => shop.name.clone(),
        What::Unit(unit) => unit.number.clone(),
        What::Vessel(vessel) => vessel.name.clone(),
        What::Fluid(fluid) => fluid.name.clone(),
        What::Person(person) => person.handle.clone(),
        What::Roles(roles) => names.handle(Some(roles.person)),
        What::Instrument(instrument) => instrument.tag.clone(),
        What::Opening(opening) => of_place(names, opening.place),
        What::Job(job) => {
            let wording = Wording {
                units: UnitsOfMeasure::METRIC,
                names,
                job,
            };
            let subject = wording.subject();
            format!("{} {subject}", job.kind.word())
        }
        What::MovedToShop(moved) => match moved {
            MovedToShop::Unit { .. } => "a unit".to_owned(),
            MovedToShop::Vessel { vessel, .. } => names.place(*vessel),
            MovedToShop::Person { person, .. } => names.handle(Some(*person)),
        },
        What::Retired(retired) => {
            let places: Vec<String> = retired
                .places
                .iter()
                .map(|place| of_place(names, *place))
                .collect();
            places.join(", ")
        }
        What::Merged(merged) => format!(
            "{} is {}",
            names.place(merged.from),
            names.place(merged.into)
        ),
        What::FitnessDecision(decision) => names.place(decision.vessel),
        What::ContainerEvent(event) => names.place(event.vessel),
        What::MonthClosed(closed) => closed.statement.month.to_string(),
        What::ProfileChosen(chosen) => chosen.jurisdiction.clone(),
        What::Determination(determination) => determination.vessel.map_or_else(
            || "all waste coolant of the site".to_owned(),
            |vessel| names.place(vessel),
        ),
        What::OtherWaste(other) => other.month.to_string(),
        What::PutOff(put_off) => names.place(put_off.place),
        What::NothingFound(looked) => names.place(looked.place),
        What::ZeroCheck(checked) => names.instrument(checked.instrument),
        What::RulesAdopted(rules) => format!("version {}", rules.version),
        What::Void(_)
        | What::Answer(_)
        | What::TextRemoved(_)
        | What::Photo(_)
        | What::PhotoRemoved(_)
        | What::Said(_)
        | What::Signed(_)
        | What::LaboratoryResult(_) => {
            meant.unwrap_or_else(|| "a fact that is not on record".to_owned())
        }
    }
}

fn of_place(names: &Names, account: Account) -> String {
    let word = || account.word().to_owned();
    account
        .place()
        .map_or_else(word, |place| names.place(place))
}

/// Everything a fact states but its reason.
pub(super) fn all(cards: Cards<'_>, fact: &Fact, meant: Option<String>) -> Vec<Field> {
    match &fact.what {
        What::Site(site) => super::card::site(site),
        What::Shop(shop) => cards.shop(shop),
        What::Unit(unit) => cards.unit(unit),
        What::Vessel(vessel) => cards.vessel(vessel),
        What::Fluid(fluid) => cards.fluid(fluid),
        What::Person(person) => cards.person(person),
        What::Roles(roles) => cards.roles(roles),
        What::Instrument(instrument) => cards.instrument(instrument),
        What::Job(job) => {
            let wording = Wording {
                units: cards.units,
                names: cards.names,
                job,
            };
            let entered = wording.all().into_iter();
            let fields = entered.map(|entered| (entered.label, entered.values.join("; ")));
            std::iter::once(field("About", subject(cards.names, fact, meant)))
                .chain(fields)
                .collect()
        }
        other => decided(cards, other, subject(cards.names, fact, meant)),
    }
}

/// What a place was opened with, as far as it was said.
fn opened_with(cards: Cards<'_>, opening: &domain::fact::Opening) -> Vec<Field> {
    let volume = opening.volume.as_ref().map(|typed| {
        let read = cards.units.volume(typed.value);
        field("Held", as_typed(typed, &read))
    });
    let strength = opening.strength.as_ref().map(|typed| {
        let read = cards.units.strength(typed.value);
        field("Strength", as_typed(typed, &read))
    });
    let fluid = opening.fluid.as_ref();
    let fluid = fluid.map(|fluid| field("Fluid", &fluid.typed));
    [volume, strength, fluid].into_iter().flatten().collect()
}

fn said_fields(cards: Cards<'_>, said: &domain::fact::Said) -> Vec<Field> {
    let asked = said
        .to
        .map(|to| field("Asked", cards.names.person(Some(to))));
    let words = cards.names.text(&said.words, "words removed");
    asked.into_iter().chain([field("Said", words)]).collect()
}

fn photo_fields(cards: Cards<'_>, photo: &domain::fact::Photo) -> Vec<Field> {
    let caption = photo.caption.as_ref();
    let caption = caption.map(|caption| cards.names.text(caption, "words removed"));
    vec![
        field("Shows", caption.unwrap_or_default()),
        field("Size", format!("{} × {} pixels", photo.width, photo.height)),
        field(
            "Bytes kept",
            format!("{} bytes", number(cards.units, i64::from(photo.bytes))),
        ),
        field("Digest of the bytes", &photo.digest),
    ]
}

fn determined(cards: Cards<'_>, determination: &Determination) -> Vec<Field> {
    let mut fields = vec![
        field(
            "Says",
            match determination.hazardous {
                Hazardous::Yes => "hazardous",
                Hazardous::No => "not hazardous",
            },
        ),
        field("Covers from", determination.covers_from.to_string()),
    ];
    let recycled = determination.recycled.map(|how| match how {
        Recycled::BestPractice => "by the practice that the rules list",
        Recycled::Otherwise => "yes",
    });
    fields.extend(recycled.map(|how| field("Recycled", how)));
    if !determination.codes.is_empty() {
        fields.push(field("Codes", determination.codes.join(", ")));
    }
    match &determination.basis {
        Basis::Knowledge(words) => {
            let words = cards.names.text(words, "words removed");
            fields.push(field("By knowledge", words));
        }
        Basis::Test(sheet) => {
            fields.push(field("Laboratory sheet", &sheet.number));
            fields.extend(sheet.sample.as_ref().map(|mark| field("Sample", mark)));
            fields.push(field("Sampled on", sheet.sampled_on.to_string()));
            fields.extend(
                sheet
                    .lines
                    .iter()
                    .map(|line| field("Found", format!("{}: {}", line.analyte, line.told()))),
            );
            fields.extend(sheet.figures().map(|(what, said)| field(what, said)));
        }
    }
    fields
}

/// Which rules were chosen from when, and what was said beside them.
fn of_choice(chosen: &ProfileChosen) -> Vec<Field> {
    let mut fields = vec![field("In force from", chosen.from.to_string())];
    let way = chosen.way.as_ref();
    fields.extend(way.map(|way| field("Way to the facility", way)));
    let number = chosen.number.as_ref();
    fields.extend(number.map(|number| field("Identity number of the site", number)));
    if chosen.on_hold {
        fields.push(field("Papers", "on hold"));
    }
    fields
}

fn other_waste(cards: Cards<'_>, other: &OtherWaste) -> Vec<Field> {
    match &other.stream {
        None => vec![field("Says", "there was none")],
        Some(stream) => vec![
            field("What", &stream.name),
            field(
                "Mass",
                as_typed(&stream.mass, &cards.units.mass(stream.mass.value)),
            ),
            field("Acute", if stream.acute { "yes" } else { "no" }),
        ],
    }
}

/// Facts that are no card and no job.
fn decided(cards: Cards<'_>, what: &What, subject: String) -> Vec<Field> {
    let mut fields = vec![field("About", subject)];
    fields.extend(match what {
        What::Opening(opening) => opened_with(cards, opening),
        What::Answer(answer) => vec![
            field(
                "Line of the job",
                answer.question.line.saturating_add(1).to_string(),
            ),
            field("Question", answer.question.kind.code().replace('_', " ")),
            field(
                "Decided",
                match answer.decision {
                    domain::fact::Decision::Accept => "accepted",
                    domain::fact::Decision::Reject => "rejected",
                },
            ),
        ],
        What::MovedToShop(
            MovedToShop::Unit { shop, .. }
            | MovedToShop::Vessel { shop, .. }
            | MovedToShop::Person { shop, .. },
        ) => vec![field("Belongs to", cards.names.shop(*shop))],
        What::FitnessDecision(decision) => vec![field(
            "Decided",
            match decision.fitness {
                Fitness::Reuse => "fit to be used again",
                Fitness::Reclaim => "to be reclaimed",
                Fitness::Waste => "waste",
            },
        )],
        What::ContainerEvent(event) => vec![of_container(cards, &event.event)],
        What::LaboratoryResult(result) => {
            let number = field("Number of the sheet", &result.number);
            let found = result.analytes.iter().map(|analyte| {
                (
                    analyte.name.clone(),
                    format!("{} {}", analyte.printed, analyte.unit),
                )
            });
            std::iter::once(number).chain(found).collect()
        }
        What::MonthClosed(closed) => month_closed(cards, closed),
        What::TextRemoved(removed) => vec![field("Digest of the text", &removed.digest)],
        What::Photo(photo) => photo_fields(cards, photo),
        What::Said(said) => said_fields(cards, said),
        What::PhotoRemoved(removed) => vec![field("Key of the photo", removed.photo.to_string())],
        What::ProfileChosen(chosen) => of_choice(chosen),
        What::Determination(determination) => determined(cards, determination),
        What::OtherWaste(other) => other_waste(cards, other),
        What::PutOff(put_off) => vec![
            field("Work", put_off.task.words()),
            field("Put off until", put_off.until.to_string()),
        ],
        What::ZeroCheck(checked) => {
            let read = cards.units.temperature(checked.reads.value);
            vec![field("Read of water", as_typed(&checked.reads, &read))]
        }
        _ => Vec::new(),
    });
    fields
}

/// Of which shops, and what the month of their site counted as; the whole statement is on its page.
fn month_closed(cards: Cards<'_>, closed: &MonthClosed) -> Vec<Field> {
    let shops: Vec<String> = closed
        .statements()
        .map(|statement| cards.names.shop(statement.shop))
        .collect();
    let up_to = number(cards.units, closed.statement.head_seq);
    let mut fields = vec![field("Shop", shops.join(", ")), field("Up to event", up_to)];
    if let Some(site) = &closed.site {
        let class = site.class.as_deref().unwrap_or("none");
        fields.push(field("Class", class));
        let open = site.open.questions.len();
        fields.push(field("Questions left open", open.to_string()));
    }
    fields
}

/// What happened to a container.
fn of_container(cards: Cards<'_>, event: &ContainerChange) -> Field {
    match event {
        ContainerChange::StartDate(date) => field("Start date", date.to_string()),
        ContainerChange::Labelled(words) => field("Labelled", words),
        ContainerChange::Closed => field("Closed", "and a new one put in its place"),
        ContainerChange::Emptied(left) => {
            let by = left.empty_by.as_ref();
            let by = by.map_or_else(String::new, |section| format!(", empty by {section}"));
            field("Emptied", format!("{} left in it{by}", left.typed))
        }
        ContainerChange::Inspected(found) => field(
            "Inspected",
            found.as_ref().map_or_else(
                || "nothing amiss".to_owned(),
                |found| cards.names.text(found, "words removed"),
            ),
        ),
        ContainerChange::Placed(Area::Central) => field("Stands in", "the central area"),
        ContainerChange::Placed(Area::Satellite(name)) => {
            field("Stands in", format!("satellite area {name}"))
        }
    }
}

/// "Job 4,211: top up 4204" for a fact that another one is about.
pub(super) fn meant(cards: Cards<'_>, seq: i64, fact: &Fact) -> String {
    let kind = kind_word(fact.what.kind());
    let about = subject(cards.names, fact, None);
    format!("{kind} {}: {about}", number(cards.units, seq))
}
