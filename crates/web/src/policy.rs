//! GET /policy: every line by which condition is judged, with its source, how far that can be trusted, and
//! from when on it holds.

use std::cmp::Reverse;

use askama::Template;
use axum::extract::RawQuery;
use axum::response::Response;
use chrono::NaiveDate;
use domain::book::{COMPLETION_ALLOWANCE_ML, COMPLETION_MS, SECOND_SAMPLE_BEYOND, WAITS_BEYOND};
use domain::condition::policy::{Policies, Policy, PolicyRow};
use domain::condition::task::Task;
use domain::moment::DAY_MS;

use crate::WebError;
use crate::desk::{Desk, Frame};
use crate::figure;
use crate::form::Form;
use crate::page;

#[derive(Template)]
#[template(path = "policy/show.html")]
struct PolicyPage {
    frame: Frame,
    about: String,
    version: String,
    /// "in force since 2026-01-01"
    standing: String,
    versions: Vec<VersionLine>,
    areas: Vec<Area>,
    /// What belongs to the book's arithmetic: what, how much.
    of_the_book: Vec<(&'static str, String)>,
}

/// One version of the policy.
#[derive(Clone, Debug)]
struct VersionLine {
    name: String,
    about: String,
    from: String,
    standing: &'static str,
    address: String,
    is_shown: bool,
}

/// Lines about one thing.
#[derive(Clone, Debug)]
struct Area {
    id: &'static str,
    title: &'static str,
    rows: Vec<Row>,
}

/// One line.
#[derive(Clone, Debug)]
struct Row {
    what: String,
    figure: String,
    source: String,
    standing: &'static str,
}

/// What the lines about one thing begin with, its name in an address and its heading.
const AREAS: [(&[&str], &str, &str); 10] = [
    (&["freeze_"], "freeze", "Freeze protection"),
    (&["winter_"], "winter", "Ready for the winter"),
    (&["foreign_"], "foreign", "Foreign coolant"),
    (
        &["corrosion_", "ph", "change", "test.", "proof"],
        "corrosion",
        "Corrosion protection, by inhibitor class",
    ),
    (&["leak_"], "leak", "Consumption and leaks"),
    (&["capacity_"], "capacity", "Capacities and drains"),
    (&["due_"], "due", "Due work"),
    (&["retrofit_"], "retrofit", "Drain couplings"),
    (&["zero_"], "zero", "Instruments"),
    (&["stock_"], "stock", "Stock of fresh fluid"),
];

/// The name of a line as people say it; a class or a kind of meter behind its dot is added.
const WORDS: [(&str, &str); 68] = [
    ("freeze_margin_watch", "A smaller margin wants a look soon"),
    ("freeze_test_within", "An older test is not recent"),
    (
        "freeze_least_level",
        "A loop that holds less of its capacity is not ready",
    ),
    (
        "winter_margin",
        "Freeze point at least so far below the winter low",
    ),
    ("winter_probability", "Chance of that, at least"),
    ("winter_coverage", "Wanted share of a shop's units"),
    ("winter_test_time", "Time for a test"),
    ("winter_correct_time", "Time for a correction"),
    (
        "winter_minute_price",
        "Price of a minute, in the shop's currency",
    ),
    (
        "winter_test_price",
        "Price of what a test uses up, in the shop's currency",
    ),
    (
        "winter_concentrate_price",
        "Price of a litre of concentrate, in the shop's currency",
    ),
    ("winter_concentrate_strength", "Glycol in concentrate"),
    (
        "winter_concentrate_spread",
        "One standard deviation of the glycol in concentrate",
    ),
    (
        "winter_reading_spread",
        "One standard deviation of a reading",
    ),
    (
        "zero_check_every",
        "A refractometer is checked with water within",
    ),
    (
        "zero_check_off_above",
        "It reads wrongly when water is further off than",
    ),
    (
        "stock_runs_out_within",
        "Runs out soon when it lasts at most",
    ),
    ("stock_learned_over", "Its use is that of at least the last"),
    ("stock_least", "A use says nothing before"),
    ("foreign_tainted_from", "Tainted from, pure below"),
    ("foreign_mixed_from", "Mixed from"),
    ("foreign_lost_above", "Lost above"),
    ("leak_normal", "Normal consumption"),
    ("leak_watch", "Consumption to watch"),
    ("leak_act", "Consumption to act on"),
    ("leak_reference", "Taken off each top-up before it is added"),
    ("leak_usual_day", "A usual day, where no meter was read"),
    ("leak_quiet", "A suspicion goes quiet after"),
    ("leak_decision", "The sum raises a suspicion above"),
    (
        "leak_count",
        "So many top-ups close together raise a suspicion",
    ),
    (
        "leak_count_within",
        "Top-ups are close together when they come within",
    ),
    (
        "leak_average_weight",
        "Weight of the newest in the moving average",
    ),
    (
        "leak_peer_deviations",
        "Deviations above its sisters that stand out",
    ),
    ("leak_least_peers", "Fewer sisters than this say nothing"),
    ("capacity_spread", "One standard deviation of a capacity"),
    ("capacity_residual", "Stays in at a drain"),
    (
        "capacity_residual_spread",
        "One standard deviation of what stays in",
    ),
    (
        "capacity_job_scatter",
        "One standard deviation from job to job",
    ),
    ("capacity_gauge", "One reading of a gauge"),
    ("capacity_whole_drain", "A whole drain brings at least"),
    (
        "due_window",
        "Window before and after the end of an interval",
    ),
    (
        "due_winter_opens",
        "The check before winter opens before the first frost",
    ),
    (
        "due_winter_ends",
        "The check before winter is about that winter after the first frost for",
    ),
    ("due_test_added", "A test is due when so much was topped up"),
    ("due_put_off_most", "Work is put off at a time by at most"),
    ("due_on_time", "Wanted share done on time"),
    ("due_weight", "Weight of being left undone"),
    (
        "retrofit_fitting_price",
        "Price of a coupling, in the shop's currency",
    ),
    ("retrofit_fit_time", "Time to fit it"),
    ("retrofit_saved_time", "Time it saves at each drain"),
    ("retrofit_saved_coolant", "Coolant it saves at each drain"),
    (
        "retrofit_coolant_price",
        "Price of a litre of coolant, in the shop's currency",
    ),
    ("retrofit_within", "From the first coupling to the last"),
    ("retrofit_pace_over", "The pace is that of"),
    (
        "corrosion_due_soon",
        "Last part of its life in which a change is due soon",
    ),
    ("corrosion_whole_change", "A filling counts as changed from"),
    ("ph_replace_below", "The trade replaces it below a pH of"),
    ("ph", "A pH outside is a flag"),
    ("change", "Changed after"),
    ("change_hours", "Changed after hours"),
    ("change_distance", "Changed after a distance"),
    ("test", "Tested within"),
    ("proof", "Proved by"),
    ("proof_least", "At least so much of what proves it"),
    ("proof_most", "At most so much of what proves it"),
    ("about", ""),
    ("effective_from", ""),
    ("like", ""),
];

/// A line's name, and the class or kind of meter behind its dot.
fn split(field: &str) -> (&str, &str) {
    field.split_once('.').unwrap_or((field, ""))
}

fn words(field: &str) -> Option<String> {
    let (name, of) = split(field);
    let (_, words) = WORDS.iter().find(|(known, _)| *known == name)?;
    let of = match of {
        "distance" => "by distance",
        "hours" => "by hours",
        other => Task::ALL
            .iter()
            .find(|task| task.code() == other)
            .map_or(other, |task| task.words()),
    };
    if words.is_empty() {
        None
    } else if of.is_empty() {
        Some((*words).to_owned())
    } else {
        Some(format!("{of}: {}", uncapitalised(words)))
    }
}

/// The words as they stand within a sentence: "pH" stays what it is.
fn uncapitalised(words: &str) -> String {
    let mut letters = words.chars();
    let first = letters.next().map(char::to_lowercase);
    first.into_iter().flatten().chain(letters).collect()
}

/// GET /policy
pub(crate) async fn show(desk: Desk, RawQuery(query): RawQuery) -> Result<Response, WebError> {
    let form = Form::from_query(query.as_deref());
    let today = desk.today();
    let policies = Policies::built_in().map_err(WebError::fault)?;
    let in_force = Policies::on(today).map_err(WebError::fault)?;
    let asked = form.typed("version");
    let shown = if asked.is_empty() {
        in_force
    } else {
        let mut all = policies.iter();
        all.find(|each| each.version == asked)
            .ok_or(WebError::NotFound)?
    };
    Ok(page::shown(&PolicyPage {
        frame: desk.frame("Policy"),
        about: shown.about.clone(),
        version: shown.version.clone(),
        standing: format!(
            "{} from {} on",
            standing(shown, (in_force, today)),
            shown.effective_from
        ),
        versions: versions(policies, shown, (in_force, today)),
        areas: areas(&shown.rows),
        of_the_book: of_the_book(&desk),
    }))
}

fn standing(policy: &Policy, (in_force, today): (&Policy, NaiveDate)) -> &'static str {
    if policy.version == in_force.version {
        "in force"
    } else if policy.effective_from > today {
        "to come"
    } else {
        "past"
    }
}

/// The newest first.
fn versions(policies: &Policies, shown: &Policy, at: (&Policy, NaiveDate)) -> Vec<VersionLine> {
    let mut all: Vec<&Policy> = policies.iter().collect();
    all.sort_by_key(|each| Reverse(each.effective_from));
    let line = |each: &Policy| VersionLine {
        name: each.version.clone(),
        about: each.about.clone(),
        from: each.effective_from.to_string(),
        standing: standing(each, at),
        address: format!("/policy?version={}", each.version),
        is_shown: each.version == shown.version,
    };
    all.into_iter().map(line).collect()
}

/// In each area what is said of all comes first, then class by class, in the order of the words above.
fn areas(rows: &[PolicyRow]) -> Vec<Area> {
    let place = |row: &PolicyRow| {
        let (name, of) = split(&row.field);
        let at = WORDS.iter().position(|(known, _)| *known == name);
        (of.to_owned(), at)
    };
    let of = |(begins, id, title): (&[&str], &'static str, &'static str)| {
        let mut own: Vec<&PolicyRow> = rows
            .iter()
            .filter(|row| begins.iter().any(|begin| row.field.starts_with(begin)))
            .collect();
        own.sort_by_key(|row| place(row));
        let told = own.into_iter().filter_map(|row| {
            Some(Row {
                what: words(&row.field)?,
                figure: row.figure.value.clone(),
                source: row.figure.section.clone(),
                standing: row.standing(),
            })
        });
        Area {
            id,
            title,
            rows: told.collect(),
        }
    };
    AREAS.into_iter().map(of).collect()
}

/// These decide what is posted, so a fact of last year has to be replayed by those of last year: they
/// change with the book's version, never with a policy.
fn of_the_book(desk: &Desk) -> Vec<(&'static str, String)> {
    let units = desk.units();
    let deviations = |count: i32| format!("{count} standard deviations");
    vec![
        (
            "A top-up completes a fill within",
            format!("{} d", COMPLETION_MS.checked_div(DAY_MS).unwrap_or(0)),
        ),
        (
            "And up to what was missing at the fill and",
            figure::volume(units, COMPLETION_ALLOWANCE_ML),
        ),
        (
            "A second sample is asked for when a reading is off by more than",
            deviations(SECOND_SAMPLE_BEYOND),
        ),
        (
            "A reading waits for an answer when it is off by more than",
            deviations(WAITS_BEYOND),
        ),
    ]
}

#[cfg(test)]
mod tests {
    use domain::condition::policy::Policies;

    use super::{WORDS, areas, words};

    #[test]
    fn every_line_of_every_version_has_its_words_and_stands_in_one_area() {
        for policy in Policies::built_in().unwrap().iter() {
            let told: usize = areas(&policy.rows).iter().map(|area| area.rows.len()).sum();
            let head = ["about", "effective_from", "like"];
            let mut figures = policy.rows.iter().map(|row| row.field.as_str());
            let all = figures
                .clone()
                .filter(|field| !head.contains(field))
                .count();
            assert_eq!(told, all, "{}", policy.version);
            let without = figures.find(|field| !head.contains(field) && words(field).is_none());
            assert_eq!(without, None);
        }
        assert_eq!(
            words("proof_least.NOAT").as_deref(),
            Some("NOAT: at least so much of what proves it")
        );
        let mut names: Vec<&str> = WORDS.iter().map(|(name, _)| *name).collect();
        names.sort_unstable();
        names.dedup();
        assert_eq!(names.len(), WORDS.len());
    }
}
