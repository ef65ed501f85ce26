//! `/settings/fluids`: what the shops buy, with the strength it comes in.

use domain::book::component::{BASES, Base, INHIBITOR_CLASSES, InhibitorClass};
use domain::fact::What;
use domain::fleet::Fluid;
use domain::ids::FluidId;
use domain::quantity::{FractionByVolume, Temperature, Unit};
use uuid::Uuid;

use super::as_on_record;
use super::listed::Listed;
use crate::WebError;
use crate::component::{Field, Width};
use crate::desk::Desk;
use crate::form::{Form, Offered, Presence};

type Named = (&'static str, &'static str);

const BASE: Named = ("base", "Base");
const CLASS: Named = ("class", "Inhibitor class");
const STRENGTH: Named = ("strength", "Glycol in it as delivered, by volume");
const FREEZE: Named = (
    "makers_freeze_point",
    "Freeze point the maker promises (optional)",
);

impl Listed for Fluid {
    const WORD: &'static str = "fluid";
    const LIST: Named = ("/settings/fluids", "Fluids");
    const ABOUT: &'static str =
        "What is bought, for every shop. A job that takes a fluid from the can names one of these.";
    const COLUMNS: &'static [&'static str] = &[
        "Fluid",
        "Base",
        "Inhibitor class",
        "Strength",
        "Maker's freeze point",
    ];
    const NAME: Named = ("name", "Name on the can");

    fn id(&self) -> Uuid {
        self.id.0
    }

    fn name(&self) -> &str {
        &self.name
    }

    fn what(self) -> What {
        What::Fluid(self)
    }

    fn cells(&self, desk: &Desk) -> Vec<String> {
        let units = desk.units();
        vec![
            self.base.word().to_owned(),
            self.class.word().to_owned(),
            units.strength(self.strength),
            self.makers_freeze_point
                .map_or_else(|| "not stated".to_owned(), |at| units.temperature(at)),
        ]
    }

    fn fields(desk: &Desk, form: &Form) -> Vec<Field> {
        vec![
            form.text_field(Self::NAME, "", Width::Twenty).into(),
            form.word_list(BASE, &BASES.map(Base::word)).into(),
            form.word_list(CLASS, &INHIBITOR_CLASSES.map(InhibitorClass::word))
                .into(),
            form.quantity_field(
                STRENGTH,
                Offered::Strength,
                desk.units(),
                "Concentrate is near 95 %, ready-mixed near 50 %: see the can.",
            )
            .into(),
            form.quantity_field(
                FREEZE,
                Offered::Temperature,
                desk.units(),
                "As the maker states it for the fluid as delivered, where it differs from the table of the glycol.",
            )
            .into(),
        ]
    }

    fn on_record(&self, desk: &Desk) -> Form {
        let units = desk.units();
        let mut form = Form::with([
            (Self::NAME.0, self.name.clone()),
            (BASE.0, self.base.word().to_owned()),
            (CLASS.0, self.class.word().to_owned()),
            (STRENGTH.0, units.strength(self.strength)),
        ]);
        if let Some(at) = self.makers_freeze_point {
            form.set(FREEZE.0, units.temperature(at));
        }
        form
    }

    fn read(form: &mut Form, desk: &Desk, (id, known): (Uuid, Option<&Self>)) -> Option<Self> {
        let name = form.line(Self::NAME, Presence::Needed);
        let bases = BASES.map(|base: Base| (base.word(), base));
        let base = form.choice(BASE, &bases, Presence::Needed);
        let classes = INHIBITOR_CLASSES.map(|class: InhibitorClass| (class.word(), class));
        let class = form.choice(CLASS, &classes, Presence::Needed);
        let percent = Unit::<FractionByVolume>::PERCENT;
        let strength = form.quantity::<FractionByVolume>(STRENGTH, percent, Presence::Needed);
        let unit = desk.units().temperature.unit();
        let freeze = form.quantity::<Temperature>(FREEZE, unit, Presence::Optional);
        Some(Self {
            id: FluidId(id),
            name: name?,
            base: base?,
            class: class?,
            strength: strength?.value,
            makers_freeze_point: as_on_record(
                (form, FREEZE.0),
                desk.units(),
                freeze.map(|at| at.value),
                known.and_then(|known| known.makers_freeze_point),
            ),
        })
    }

    fn name_in_use(other: &str) -> String {
        format!("another fluid is called {other}; give another name")
    }

    async fn list(desk: &Desk) -> Result<Vec<Self>, WebError> {
        let mut read = desk.read().await?;
        read.list_fluids().await.map_err(WebError::fault)
    }

    async fn find(desk: &Desk, id: Uuid) -> Result<Option<Self>, WebError> {
        let mut fluids = Self::list(desk).await?.into_iter();
        Ok(fluids.find(|fluid| fluid.id.0 == id))
    }

    async fn beside(&self, desk: &Desk) -> Result<Vec<Self>, WebError> {
        Self::list(desk).await
    }
}
