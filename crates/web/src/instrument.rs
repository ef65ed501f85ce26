//! `/instruments/{instrument}/zero`: a refractometer checked with water, and how each one stands by it.

use axum::body::Bytes;
use axum::extract::Path;
use axum::http::HeaderMap;
use axum::response::Response;
use chrono::NaiveDate;
use domain::condition::policy::Policies;
use domain::condition::zero::{self, ZeroCheck, ZeroChecked, ZeroPolicy};
use domain::fact::What;
use domain::fleet::{Instrument, Role, Tool};
use domain::ids::InstrumentId;
use domain::moment::Moment;
use domain::quantity::{Temperature, UnitsOfMeasure};
use storage::Read;
use uuid::Uuid;

use crate::WebError;
use crate::card::{self, Added, Part, Sheet};
use crate::component::{QuantityField, Sign};
use crate::desk::Desk;
use crate::form::{Form, Offered, Presence};
use crate::page::sentence;

/// Those who log jobs.
pub(crate) const WORK: &[Role] = &[Role::Technician, Role::LeadHand, Role::Manager];
const READS: (&str, &str) = ("reads", "Freeze point it reads of distilled water");

/// How an instrument stands by its last check with water.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Zero {
    pub(crate) last: Option<ZeroChecked>,
    policy: ZeroPolicy,
    today: NaiveDate,
    units: UnitsOfMeasure,
}

impl Zero {
    /// None for one that is not checked so.
    pub(crate) async fn of(
        desk: &Desk,
        read: &mut Read,
        instrument: &Instrument,
    ) -> Result<Option<Self>, WebError> {
        if !zero::is_checked_with_water(instrument) {
            return Ok(None);
        }
        let today = desk.today();
        let last = read
            .zero_check_for(instrument.id, (today, Moment(i64::MAX)))
            .await;
        Ok(Some(Self {
            last: last.map_err(WebError::fault)?,
            policy: Policies::on(today).map_err(WebError::fault)?.zero,
            today,
            units: desk.units(),
        }))
    }

    fn next_due(&self) -> Option<NaiveDate> {
        self.policy.next_due(self.last?.day)
    }

    /// Since when it is believed less, or from when on it will be.
    fn told_for(&self) -> Option<NaiveDate> {
        match self.last {
            Some(last) if self.policy.is_off(last.reads) => Some(last.day),
            _ => self.next_due(),
        }
    }

    /// "zero checked on 2026-10-05, next due 2026-10-06", lower case, without a full stop.
    pub(crate) fn words(&self) -> String {
        let Some(last) = self.last else {
            return "no zero check on record".to_owned();
        };
        let due = self.next_due();
        let due = due.map_or_else(String::new, |due| due.to_string());
        if self.policy.is_off(last.reads) {
            let reads = self.units.temperature(last.reads);
            format!("zero off on {}: it read {reads} on water", last.day)
        } else if self.next_due().is_some_and(|due| due <= self.today) {
            format!("zero check due since {due}")
        } else {
            format!("zero checked on {}, next due {due}", last.day)
        }
    }

    /// The same, with what it does to what is read today.
    pub(crate) fn warning(&self, instrument: &Instrument) -> String {
        let by_zero = zero::doubt(instrument, self.last.as_ref(), (self.today, &self.policy));
        if by_zero.is_some() && instrument.doubt_on(self.today).is_none() {
            format!(
                "{}: read today, it counts with twice its error",
                self.words()
            )
        } else {
            self.words()
        }
    }
}

/// An instrument that is believed less today, or no longer from tomorrow on.
#[derive(Clone, Debug)]
pub(crate) struct Doubted {
    pub(crate) instrument: Instrument,
    /// "out of date since 2026-09-23", "zero check due since 2026-10-05"; lower case, without a full stop.
    pub(crate) said: String,
    /// Since when, or its last day.
    pub(crate) day: Option<NaiveDate>,
    /// A check with water is what it wants.
    pub(crate) wants_zero_check: bool,
}

/// The instruments of the shop whose calibration, lot or zero check is due or over, those first that have been
/// so the longest.
pub(crate) async fn doubted(desk: &Desk, read: &mut Read) -> Result<Vec<Doubted>, WebError> {
    let today = desk.today();
    let policy = Policies::on(today).map_err(WebError::fault)?.zero;
    let instruments = read.list_instruments(desk.shop.id).await;
    let checks = read.list_last_zero_checks(desk.shop.id, today).await;
    let checks = checks.map_err(WebError::fault)?;
    let each = instruments.map_err(WebError::fault)?.into_iter();
    let mut found: Vec<Doubted> = each
        .filter_map(|instrument| {
            let zero = Zero {
                last: checks.get(&instrument.id).copied(),
                policy,
                today,
                units: desk.units(),
            };
            doubt_of(instrument, &zero)
        })
        .collect();
    found.sort_by_key(|doubted| doubted.day);
    Ok(found)
}

/// By its card first: a lot of strips is good on its last day, and told on it.
fn doubt_of(instrument: Instrument, zero: &Zero) -> Option<Doubted> {
    let is_strip = instrument.tool == Tool::Strip;
    if let Some(due) = instrument.calibration_due.filter(|due| *due <= zero.today) {
        let said = match (is_strip, due == zero.today) {
            (true, true) => "the last day of its lot is today".to_owned(),
            (true, false) => format!("its lot was good until {due}"),
            (false, true) => "calibration due today".to_owned(),
            (false, false) => format!("calibration due since {due}"),
        };
        return Some(Doubted {
            instrument,
            said,
            day: Some(due),
            wants_zero_check: false,
        });
    }
    zero::doubt(&instrument, zero.last.as_ref(), (zero.today, &zero.policy))?;
    Some(Doubted {
        said: zero.words(),
        day: zero.told_for(),
        wants_zero_check: true,
        instrument,
    })
}

/// Where an instrument is checked.
pub(crate) fn address(instrument: InstrumentId) -> String {
    format!("/instruments/{instrument}/zero")
}

fn sheet<'a>(desk: &'a Desk, instrument: &Instrument, zero: &Zero) -> Sheet<'a> {
    let units = desk.units();
    let limit = units.temperature_difference(zero.policy.off_above);
    let back = if desk.may(&[Role::Manager]) {
        ("/settings/instruments", "Instruments")
    } else {
        ("/", "Shop board")
    };
    Sheet {
        word: "zero check",
        heading: format!("Zero check of {}", instrument.tag),
        about: format!(
            "{}. Clean the prism, put distilled water on it and read. It reads zero as long as it is off by no more than {limit}; set it to zero otherwise, and check it again. What a refractometer reads on a day it was not checked, or with its zero off, counts with twice its error once its checks are on record.",
            sentence(&zero.words()).trim_end_matches('.')
        ),
        action: address(instrument.id),
        back: (back.0.to_owned(), back.1.to_owned()),
        parts: Box::new(move |form| {
            let field = QuantityField {
                sign: Some(if form.typed("reads_sign") == "below" {
                    Sign::Below
                } else {
                    Sign::Above
                }),
                ..form.quantity_field(
                    READS,
                    Offered::Temperature,
                    units,
                    "Water freezes at 0 °C (32 °F); on a scale of percent 0 % is the same.",
                )
            };
            vec![Part::of("Reading", vec![field.into()])]
        }),
    }
}

async fn find(desk: &Desk, id: &str) -> Result<(Instrument, Zero), WebError> {
    let id = Uuid::try_parse(id).map_err(|_| WebError::NotFound)?;
    let mut read = desk.read().await?;
    let found = read.find_instrument(InstrumentId(id)).await;
    let found = found.map_err(WebError::fault)?;
    // It is dated by the clock of the instrument's shop, and counts there.
    let found = found.filter(|instrument| instrument.shop == desk.shop.id);
    let instrument = found.ok_or(WebError::NotFound)?;
    let zero = Zero::of(desk, &mut read, &instrument).await?;
    Ok((instrument, zero.ok_or(WebError::NotFound)?))
}

/// GET /instruments/{instrument}/zero
pub(crate) async fn show(desk: Desk, Path(id): Path<String>) -> Result<Response, WebError> {
    let (instrument, zero) = find(&desk, &id).await?;
    Ok(sheet(&desk, &instrument, &zero).draw(&desk, &card::new_form()))
}

/// POST /instruments/{instrument}/zero
pub(crate) async fn submit(
    desk: Desk,
    Path(id): Path<String>,
    (headers, body): (HeaderMap, Bytes),
) -> Result<Response, WebError> {
    let mut form = Form::from_body(&headers, &body)?;
    let as_sent = form.as_sent();
    let (instrument, zero) = find(&desk, &id).await?;
    let key = card::read_key(&mut form);
    let unit = desk.units().temperature.unit();
    let reads = form.quantity::<Temperature>(READS, unit, Presence::Needed);
    form.refuse_what_was_not_asked();
    let sheet = sheet(&desk, &instrument, &zero);
    let (Some(key), Some(reads), true) = (key, reads, form.is_good()) else {
        return Ok(sheet.draw(&desk, &form));
    };
    let what = What::ZeroCheck(ZeroCheck {
        instrument: instrument.id,
        reads,
    });
    let added = Added {
        facts: vec![(key, what)],
        acting: WORK,
        leads_to: address(instrument.id),
    };
    sheet.add(&desk, added, (form, as_sent)).await
}
