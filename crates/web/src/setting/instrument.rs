//! `/settings/instruments`: what the shop measures with, and until when it may be believed.

use domain::book::component::Base;
use domain::condition::zero;
use domain::fact::What;
use domain::fleet::{Instrument, Tool};
use domain::ids::InstrumentId;
use uuid::Uuid;

use super::listed::Listed;
use crate::WebError;
use crate::component::{Choice, ChoiceLook, Field, Width};
use crate::desk::Desk;
use crate::form::{Form, Presence};
use crate::instrument::{self, Zero};
use crate::job::sentence_case;

type Named = (&'static str, &'static str);

const TOOL: Named = ("tool", "What is it?");
const SCALE: Named = ("scale", "Its scale is for");
const DUE: Named = (
    "calibration_due",
    "Calibration due or last day of a strip lot, like 2027-10-05 (optional)",
);

const TOOLS: [(&str, Tool); 6] = [
    ("refractometer", Tool::Refractometer),
    ("hydrometer", Tool::Hydrometer),
    ("density_meter", Tool::DensityMeter),
    ("strip", Tool::Strip),
    ("gauge", Tool::Gauge),
    ("laboratory", Tool::Laboratory),
];
const SCALES: [(&str, &str, Option<Base>); 3] = [
    ("eg", "Ethylene glycol", Some(Base::Eg)),
    ("pg", "Propylene glycol", Some(Base::Pg)),
    ("none", "It has no scale for glycol", None),
];

impl Listed for Instrument {
    const WORD: &'static str = "instrument";
    const LIST: Named = ("/settings/instruments", "Instruments");
    const ABOUT: &'static str = "What this shop measures with. A reading carries the error of its instrument, and twice that once the instrument is out of date or its zero check is off or due.";
    const COLUMNS: &'static [&'static str] = &[
        "Instrument",
        "Kind",
        "Scale",
        "Calibration due",
        "Zero check",
    ];
    const NAME: Named = ("tag", "Tag on it");

    fn id(&self) -> Uuid {
        self.id.0
    }

    fn name(&self) -> &str {
        &self.tag
    }

    fn what(self) -> What {
        What::Instrument(self)
    }

    fn cells(&self, desk: &Desk) -> Vec<String> {
        let today = desk.today();
        let due = match self.calibration_due {
            None => "not on record".to_owned(),
            Some(due) if self.doubt_on(today).is_some() => format!("{due}, out of date"),
            Some(due) if self.is_due_soon(today) => format!("{due}, due soon"),
            Some(due) => due.to_string(),
        };
        let mut cells = vec![
            self.tool.word().to_owned(),
            self.scale.map_or("none", Base::word).to_owned(),
            due,
        ];
        if !zero::is_checked_with_water(self) {
            cells.push("not checked so".to_owned());
        }
        cells
    }

    fn fields(_: &Desk, form: &Form) -> Vec<Field> {
        let choice = |code: &str, label: &str| Choice {
            value: code.to_owned(),
            label: label.to_owned(),
            ..Choice::default()
        };
        let tools = TOOLS.map(|(code, tool)| choice(code, tool.word()));
        let scales = SCALES.map(|(code, label, _)| choice(code, label));
        vec![
            form.text_field(Self::NAME, "Like R-1; a lot number for strips.", Width::Ten)
                .into(),
            form.choice_field(TOOL, "", tools.to_vec(), ChoiceLook::OneOf)
                .into(),
            form.choice_field(
                SCALE,
                "A reading on the scale of the other glycol is set aside, not believed.",
                scales.to_vec(),
                ChoiceLook::OneOf,
            )
            .into(),
            form.text_field(DUE, "", Width::Ten).into(),
        ]
    }

    fn on_record(&self, _: &Desk) -> Form {
        let tool = TOOLS.iter().find(|(_, tool)| *tool == self.tool);
        let scale = SCALES.iter().find(|(_, _, scale)| *scale == self.scale);
        let due = self.calibration_due;
        Form::with([
            (Self::NAME.0, self.tag.clone()),
            (TOOL.0, tool.map_or("", |(code, _)| *code).to_owned()),
            (SCALE.0, scale.map_or("", |(code, ..)| *code).to_owned()),
            (DUE.0, due.map(|due| due.to_string()).unwrap_or_default()),
        ])
    }

    fn read(form: &mut Form, desk: &Desk, (id, known): (Uuid, Option<&Self>)) -> Option<Self> {
        let tag = form.line(Self::NAME, Presence::Needed);
        let tool = form.choice(TOOL, &TOOLS, Presence::Needed);
        let scales = SCALES.map(|(code, _, scale)| (code, scale));
        let scale = form.choice(SCALE, &scales, Presence::Needed);
        let calibration_due = form.day(DUE, Presence::Optional);
        Some(Self {
            id: InstrumentId(id),
            tag: tag?,
            shop: known.map_or(desk.shop.id, |known| known.shop),
            tool: tool?,
            scale: scale?,
            calibration_due,
        })
    }

    fn name_in_use(other: &str) -> String {
        format!("another instrument has the tag {other}; give another one")
    }

    async fn kept_beside(&self, desk: &Desk) -> Result<Option<(String, String)>, WebError> {
        let zero = Zero::of(desk, &mut desk.read().await?, self).await?;
        // Who looks after settings alone checks no instrument: the card says the same.
        let address = if desk.may(instrument::WORK) {
            instrument::address(self.id)
        } else {
            format!("/settings/instruments/{}/edit", self.id)
        };
        Ok(zero.map(|zero| (sentence_case(&zero.words()), address)))
    }

    async fn list(desk: &Desk) -> Result<Vec<Self>, WebError> {
        let mut read = desk.read().await?;
        let own = read.list_instruments(desk.shop.id).await;
        own.map_err(WebError::fault)
    }

    async fn find(desk: &Desk, id: Uuid) -> Result<Option<Self>, WebError> {
        let mut read = desk.read().await?;
        let found = read.find_instrument(InstrumentId(id)).await;
        let found = found.map_err(WebError::fault)?;
        Ok(found.filter(|instrument| desk.sees(instrument.shop)))
    }

    async fn beside(&self, desk: &Desk) -> Result<Vec<Self>, WebError> {
        let mut read = desk.read().await?;
        let beside = read.list_instruments(self.shop).await;
        beside.map_err(WebError::fault)
    }
}
