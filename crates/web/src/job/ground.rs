//! What a job stands on: the unit or vessel, its shop, what is there to draw from and put into.

use std::collections::HashMap;

use chrono::{DateTime, NaiveDate, Utc};
use chrono_tz::Tz;
use domain::book::component::{Base, InhibitorClass};
use domain::condition::capacity::DrainMethod;
use domain::condition::work::Known;
use domain::fleet::{Fluid, Holds, Instrument, Loop, Shop, Unit, Vessel};
use domain::ids::{FactKey, InstrumentId, PlaceId, ShopId, UnitId};
use domain::job::JobKind;
use domain::quantity::UnitsOfMeasure;
use storage::{FittedPort, PlaceContents, VesselNow};
use uuid::Uuid;

use crate::WebError;
use crate::capacity::{self, Likely};
use crate::desk::Desk;
use crate::figure;
use crate::form::Form;
use crate::instrument::Zero;
use crate::intake::derived::{self, USUAL_LOOP};
use crate::upkeep::{self, UnitUpkeep};

use super::sheet::DoneOn;
use super::told::Told;

/// What a job is done on.
#[derive(Clone, Debug)]
pub(crate) enum Subject {
    Unit(Unit),
    Vessel(Vessel),
}

/// A vessel of the shop with what it holds.
#[derive(Clone, Debug)]
pub(crate) struct KnownVessel {
    pub(crate) card: Vessel,
    pub(crate) contents: Option<PlaceContents>,
    /// What goes in next would be waste in a container that carries no start date.
    pub(crate) lacks_start_date: bool,
}

impl KnownVessel {
    fn of(vessel: VesselNow) -> Self {
        Self {
            lacks_start_date: vessel.card.holds == Holds::Waste && vessel.stated.lacks_start_date(),
            card: vessel.card,
            contents: vessel.held,
        }
    }

    pub(crate) fn shown_ml(&self) -> i64 {
        self.contents
            .as_ref()
            .map_or(0, |contents| contents.shown_ml)
    }

    /// What still fits below its fill limit, or else its capacity; none where neither is on record.
    pub(crate) fn free_ml(&self) -> Option<i64> {
        let limit = self
            .card
            .fill_limit
            .as_ref()
            .or(self.card.capacity.as_ref())?;
        Some(limit.value.ml().saturating_sub(self.shown_ml()).max(0))
    }

    /// What it is kept for: as it was dedicated when it was last cleaned out, else as its card says.
    pub(crate) fn kind(&self) -> (Base, InhibitorClass) {
        let held = self.contents.as_ref().map(PlaceContents::held_now);
        let dedicated = held.and_then(|held| held.dedicated);
        dedicated.unwrap_or((self.card.base, self.card.class))
    }

    /// What it holds was judged, and may not be used again.
    pub(crate) fn is_unfit(&self) -> bool {
        self.contents
            .as_ref()
            .is_some_and(|held| held.unfit_since.is_some())
    }
}

/// Everything a sheet may look at.
#[derive(Clone, Debug)]
pub(crate) struct Ground {
    pub(crate) subject: Subject,
    /// What the loops of the unit, or the vessel, hold.
    pub(crate) held: Vec<PlaceContents>,
    /// The shop the job is done in.
    pub(crate) shop: Shop,
    /// Its vessels in use, by name.
    pub(crate) vessels: Vec<KnownVessel>,
    /// What the lines of the job that is corrected took out of, by the ids they name: as it stands,
    /// whatever became of it since; none where nobody has a card for it.
    corrected: Vec<(PlaceId, Option<KnownVessel>)>,
    pub(crate) fluids: Vec<Fluid>,
    pub(crate) instruments: Vec<Instrument>,
    /// How those of them stand that are checked with water.
    pub(crate) zeroes: HashMap<InstrumentId, Zero>,
    /// The vessel this unit was last topped up from.
    pub(crate) last_source: Option<PlaceId>,
    /// Its loops that are too conductive to be used, each with what was read.
    pub(crate) locked: HashMap<PlaceId, String>,
    /// The ports last fitted here, newest first; of a unit only.
    pub(crate) fitted_ports: Vec<FittedPort>,
    /// What each loop of the unit takes, as far as its jobs told.
    pub(crate) takes: HashMap<PlaceId, Known>,
    pub(crate) now: DateTime<Utc>,
    pub(crate) zone: Tz,
    pub(crate) today: NaiveDate,
}

impl Ground {
    pub(crate) fn units(&self) -> UnitsOfMeasure {
        self.shop.units_of_measure
    }

    pub(crate) fn loops(&self) -> &[Loop] {
        match &self.subject {
            Subject::Unit(unit) => &unit.loops,
            Subject::Vessel(_) => &[],
        }
    }

    /// Why a loop that takes nothing but its own coolant, as it is supplied, takes no other; none of any
    /// other loop.
    pub(super) fn dedicated_refill(&self, circuit: Option<&Loop>) -> Option<String> {
        let circuit = circuit.filter(|circuit| circuit.class.is_dedicated())?;
        let kind = format!("{} {}", circuit.base.word(), circuit.class.word());
        let locked = self.locked.get(&circuit.id);
        let locked = locked.map_or_else(String::new, |why| format!("; it is locked: {why}"));
        Some(format!(
            "dedicated refill only, the {} loop takes {kind} as supplied and nothing else{locked}",
            circuit.name
        ))
    }

    /// "4204" or "Cart A".
    pub(crate) fn name(&self) -> &str {
        match &self.subject {
            Subject::Unit(unit) => &unit.number,
            Subject::Vessel(vessel) => &vessel.name,
        }
    }

    pub(crate) fn unit(&self) -> Option<UnitId> {
        match &self.subject {
            Subject::Unit(unit) => Some(unit.id),
            Subject::Vessel(_) => None,
        }
    }

    /// The page of the unit or vessel.
    pub(crate) fn address(&self) -> String {
        match &self.subject {
            Subject::Unit(unit) => format!("/units/{}", unit.id),
            Subject::Vessel(vessel) => format!("/vessels/{}", vessel.id),
        }
    }

    pub(crate) fn held_by(&self, place: PlaceId) -> Option<&PlaceContents> {
        self.held
            .iter()
            .chain(
                self.vessels
                    .iter()
                    .filter_map(|vessel| vessel.contents.as_ref()),
            )
            .find(|held| held.place == place)
    }

    pub(crate) fn vessel(&self, id: PlaceId) -> Option<&KnownVessel> {
        self.vessels.iter().find(|vessel| vessel.card.id == id)
    }

    /// A vessel in use, or one that the job that is corrected took out of.
    pub(super) fn vessel_now_or_then(&self, id: PlaceId) -> Option<&KnownVessel> {
        let then = || self.corrected.iter().find(|(named, _)| *named == id);
        self.vessel(id).or_else(|| then()?.1.as_ref())
    }

    /// Whether the job that is corrected took something out of it.
    pub(super) fn took_out_of(&self, id: PlaceId) -> bool {
        self.corrected.iter().any(|(named, _)| *named == id)
    }

    /// The loop a form is about, as far as it says; the first when it does not.
    pub(crate) fn chosen_loop(&self, form: &Form) -> Option<&Loop> {
        let typed = form.typed("loop");
        let loops = self.loops();
        loops
            .iter()
            .find(|each| each.id.to_string() == typed)
            .or(loops.first())
    }

    /// What a loop takes and holds: "takes 40.0 L, holds 38.2 L by the book".
    pub(crate) fn holdings(&self, circuit: &Loop) -> String {
        let units = self.units();
        let takes = circuit
            .capacity
            .as_ref()
            .map(|capacity| format!("takes {}", units.volume(capacity.value)));
        let holds = self
            .held_by(circuit.id)
            .map(|held| format!("holds {} by the book", figure::volume(units, held.shown_ml)));
        let said: Vec<String> = takes.into_iter().chain(holds).collect();
        said.join(", ")
    }

    /// "The loop takes 40.0 L, holds 38.2 L by the book." Nothing where there are several.
    pub(crate) fn holdings_in_words(&self, form: &Form) -> String {
        let only = self.chosen_loop(form).filter(|_| self.loops().len() == 1);
        let said = only.map_or_else(String::new, |each| self.holdings(each));
        if said.is_empty() {
            said
        } else {
            format!("The loop {said}.")
        }
    }

    /// What draining a loop is likely to bring.
    fn likely(&self, circuit: &Loop, else_by: DrainMethod) -> Option<Likely> {
        let capacity_ml = circuit.capacity.as_ref()?.value.ml();
        let held = self.held_by(circuit.id);
        let held_ml = held.map_or(capacity_ml, |held| held.shown_ml);
        Likely::of(
            self.takes.get(&circuit.id)?,
            else_by,
            (capacity_ml, held_ml),
        )
    }

    /// The same in words, loop by loop; nothing of those without a capacity.
    pub(crate) fn likely_in_words(&self, else_by: DrainMethod) -> String {
        let several = self.loops().len() > 1;
        let each = self.loops().iter().filter_map(|circuit| {
            let likely = self.likely(circuit, else_by)?.sentence(self.units());
            Some(if several {
                format!("{}: {likely}", circuit.name)
            } else {
                likely
            })
        });
        each.collect::<Vec<String>>().join(" ")
    }

    /// The vessel the job is about, with what it holds.
    pub(crate) fn own_vessel(&self) -> Option<KnownVessel> {
        match &self.subject {
            Subject::Vessel(card) => Some(KnownVessel {
                card: card.clone(),
                contents: self.held.first().cloned(),
                lacks_start_date: self
                    .vessel(card.id)
                    .is_some_and(|known| known.lacks_start_date),
            }),
            Subject::Unit(_) => None,
        }
    }

    /// What a place is called on this page: "4204", "4204 heater", "Cart A".
    pub(crate) fn name_of(&self, place: PlaceId) -> String {
        let loops = self.loops();
        if let Some(each) = loops.iter().find(|each| each.id == place) {
            return if loops.len() > 1 {
                format!("{} {}", self.name(), each.name)
            } else {
                self.name().to_owned()
            };
        }
        match (self.vessel_now_or_then(place), &self.subject) {
            (Some(vessel), _) => vessel.card.name.clone(),
            (None, Subject::Vessel(own)) if own.id == place => own.name.clone(),
            _ => "another place".to_owned(),
        }
    }

    /// Loads it for a unit: units can be worked on in any shop, in the shop the person stands in.
    pub(crate) async fn of_unit(desk: &Desk, unit: Uuid) -> Result<Self, WebError> {
        let mut read = desk.read().await?;
        let unit = read
            .find_unit(UnitId(unit))
            .await
            .map_err(WebError::fault)?;
        let unit = unit.ok_or(WebError::NotFound)?;
        let held = read
            .list_places_of_unit(unit.id)
            .await
            .map_err(WebError::fault)?;
        let ground = Self::around(desk, &mut read, Subject::Unit(unit), held).await?;
        Ok(ground.without_retired())
    }

    /// For a unit that is not known yet: the shop around it, and one loop nothing is known of.
    pub(crate) async fn of_a_unit_to_come(desk: &Desk) -> Result<Self, WebError> {
        let unit = stand_in(UnitId(Uuid::nil()), PlaceId(Uuid::nil()), desk.shop.id);
        let mut read = desk.read().await?;
        let ground = Self::around(desk, &mut read, Subject::Unit(unit), Vec::new()).await?;
        Ok(ground.without_retired())
    }

    /// For a job that waited on a tablet: at the time it was saved there, and with whatever has been
    /// retired or taken off a card since. What nobody has a card for gets one in name only, so that
    /// the job is kept and asked about.
    pub(crate) async fn of_waited(
        desk: &Desk,
        (on, id): (DoneOn, Uuid),
        form: &Form,
        now: DateTime<Utc>,
    ) -> Result<Self, WebError> {
        let mut read = desk.read().await?;
        let (subject, held) = if on == DoneOn::Vessel {
            let vessel = read.find_vessel(PlaceId(id)).await;
            let vessel = vessel.map_err(WebError::fault)?.ok_or(WebError::NotFound)?;
            let held = read.find_place(vessel.id).await.map_err(WebError::fault)?;
            (Subject::Vessel(vessel), held.into_iter().collect())
        } else {
            let chosen = Uuid::try_parse(form.typed("loop").trim()).map(PlaceId).ok();
            let unit = read.find_unit(UnitId(id)).await.map_err(WebError::fault)?;
            let unit = with_loop(unit, (UnitId(id), chosen), desk.shop.id);
            let held = read.list_places_of_unit(unit.id).await;
            (Subject::Unit(unit), held.map_err(WebError::fault)?)
        };
        let ground = Self::around(desk, &mut read, subject, held).await?;
        drop(read);
        let ground = ground.correcting(desk, form).await?;
        Ok(Self {
            now,
            today: now.with_timezone(&ground.zone).date_naive(),
            ..ground
        })
    }

    /// The same for a form that takes the place of a job, where it says so and that job is one of this
    /// shop.
    pub(super) async fn correcting(self, desk: &Desk, form: &Form) -> Result<Self, WebError> {
        let Ok(replaced) = Uuid::try_parse(form.typed("replaces").trim()) else {
            return Ok(self);
        };
        let mut read = desk.read().await?;
        match Told::look_up(&mut read, FactKey(replaced)).await? {
            Some(told) if told.job.shop == desk.shop.id => self.knowing(&mut read, &told).await,
            _ => Ok(self),
        }
    }

    /// The same, with what the lines of a job took out of.
    pub(super) async fn knowing(
        mut self,
        read: &mut storage::Read,
        told: &Told,
    ) -> Result<Self, WebError> {
        let postings = read.list_postings(told.key).await;
        for (named, settled) in told.taken_from(&postings.map_err(WebError::fault)?) {
            let card = read.find_vessel(settled).await.map_err(WebError::fault)?;
            let known = match card {
                Some(card) => {
                    let now = read.vessel_as_it_stands(card).await;
                    Some(KnownVessel::of(now.map_err(WebError::fault)?))
                }
                None => None,
            };
            self.corrected.push((named, known));
        }
        Ok(self)
    }

    fn without_retired(mut self) -> Self {
        let in_use =
            |vessel: &KnownVessel| !vessel.contents.as_ref().is_some_and(|held| held.retired);
        self.vessels.retain(in_use);
        self
    }

    /// Loads it for a vessel, which must belong to a shop the person sees.
    pub(crate) async fn of_vessel(desk: &Desk, vessel: Uuid) -> Result<Self, WebError> {
        let mut read = desk.read().await?;
        let vessel = read
            .find_vessel(PlaceId(vessel))
            .await
            .map_err(WebError::fault)?;
        let vessel = vessel.filter(|vessel| vessel.shop == desk.shop.id);
        let vessel = vessel.ok_or(WebError::NotFound)?;
        let held = read.find_place(vessel.id).await.map_err(WebError::fault)?;
        let held = held.into_iter().collect();
        let ground = Self::around(desk, &mut read, Subject::Vessel(vessel), held).await?;
        Ok(ground.without_retired())
    }

    async fn around(
        desk: &Desk,
        read: &mut storage::Read,
        subject: Subject,
        held: Vec<PlaceContents>,
    ) -> Result<Self, WebError> {
        let shop = desk.shop.clone();
        let vessels = read
            .list_vessels_of_shop_with_contents(shop.id)
            .await
            .map_err(WebError::fault)?;
        let vessels = vessels.into_iter().map(KnownVessel::of).collect();
        let (last_source, fitted_ports) = match &subject {
            Subject::Unit(unit) => (
                last_source(read, unit.id).await?,
                read.list_fitted_ports(shop.id, LOOKED_THROUGH)
                    .await
                    .map_err(WebError::fault)?,
            ),
            Subject::Vessel(_) => (None, Vec::new()),
        };
        let takes = match &subject {
            Subject::Unit(unit) => capacity::of_unit(read, unit, desk.today()).await?,
            Subject::Vessel(_) => HashMap::new(),
        };
        let locked = match &subject {
            Subject::Unit(unit) => locked(desk, read, unit).await?,
            Subject::Vessel(_) => HashMap::new(),
        };
        let instruments = read.list_instruments(shop.id).await;
        let instruments = instruments.map_err(WebError::fault)?;
        let mut zeroes = HashMap::new();
        for instrument in &instruments {
            let zero = Zero::of(desk, read, instrument).await?;
            zeroes.extend(zero.map(|zero| (instrument.id, zero)));
        }
        Ok(Self {
            subject,
            held,
            vessels,
            corrected: Vec::new(),
            fluids: read.list_fluids().await.map_err(WebError::fault)?,
            instruments,
            zeroes,
            last_source,
            locked,
            fitted_ports,
            takes,
            now: desk.now(),
            zone: desk.zone(),
            today: desk.today(),
            shop,
        })
    }
}

/// The loops of a unit that are too conductive; only those that take nothing but their own coolant can be.
async fn locked(
    desk: &Desk,
    read: &mut storage::Read,
    unit: &Unit,
) -> Result<HashMap<PlaceId, String>, WebError> {
    if unit.loops.iter().all(|each| !each.class.is_dedicated()) {
        return Ok(HashMap::new());
    }
    let upkeep = upkeep::of_unit(desk, read, unit.id).await?;
    let each = upkeep.iter().flat_map(UnitUpkeep::each);
    let locked = each.filter_map(|(of, known)| {
        let why = upkeep::corrosion::too_conductive(&known.corrosion, desk.units())?;
        Some((of.place, why))
    });
    Ok(locked.collect())
}

/// A unit with the loop somebody chose, even when its card no longer names it.
fn with_loop(unit: Option<Unit>, (id, chosen): (UnitId, Option<PlaceId>), shop: ShopId) -> Unit {
    let missing = || {
        let circuit = chosen.unwrap_or_else(|| derived::loop_id(&id.to_string(), USUAL_LOOP));
        stand_in(id, circuit, shop)
    };
    let mut unit = unit.unwrap_or_else(missing);
    if let Some(chosen) = chosen
        && unit.loops.iter().all(|each| each.id != chosen)
    {
        unit.loops.extend(stand_in(id, chosen, shop).loops);
    }
    unit
}

/// A unit that has no card here.
fn stand_in(id: UnitId, circuit: PlaceId, shop: ShopId) -> Unit {
    Unit {
        id,
        number: "this unit".to_owned(),
        kind: "unit".to_owned(),
        shop,
        engine_family: None,
        loops: vec![Loop {
            id: circuit,
            name: "engine".to_owned(),
            base: Base::Unknown,
            class: InhibitorClass::Unknown,
            capacity: None,
            target_strength: None,
            cap_rating: None,
            lowest_part_rating: None,
            air_space: None,
            high_voltage: false,
            coupling_fitted: None,
        }],
        reason: None,
    }
}

/// So many of a unit's jobs, and of a shop's fittings, are looked through.
const LOOKED_THROUGH: i64 = 20;

/// The vessel of the last top-up that counts.
async fn last_source(read: &mut storage::Read, unit: UnitId) -> Result<Option<PlaceId>, WebError> {
    let jobs = read.list_jobs_of_unit(unit, None, LOOKED_THROUGH).await;
    let jobs = jobs.map_err(WebError::fault)?;
    let counts =
        |job: &&storage::JobRow| job.kind == JobKind::TopUp.code() && job.standing == "posted";
    let last = jobs.iter().find(counts);
    let moved = last.and_then(|job| job.moved.iter().find(|moved| moved.why == "moved"));
    Ok(moved.and_then(|moved| moved.from_place))
}
