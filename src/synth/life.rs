//! The life of one vehicle: when it is driven, fails, is brought in, is seen without trouble and is lost.
//!
//! Services, statements and polls happen whatever fails, and a vehicle is lost at one of them, never between; so the
//! observed distance ends independently of failures and a rate over it is honest. Only walk-ins come because of a failure.

use std::cmp::Ordering;

use crate::domain::day::Day;
use crate::synth::casework::{self, Opened};
use crate::synth::draw::{Draw, Purpose};
use crate::synth::model::Model;
use crate::synth::record::{Failure, Owner, VehicleLife, Visit, VisitKind};
use crate::synth::schedule;
use crate::synth::start::Start;

/// A stranger that never fails is never seen; so many lives are drawn before one is taken as a later customer instead.
const STRANGER_TRIES: u32 = 2_000;

/// Draws the life of vehicle `index`: the same for the same seed, whatever was drawn before.
pub fn live(model: &Model, seed: u64, index: u64) -> VehicleLife {
    let mut draw = Draw::new(seed, index, Purpose::Life);
    let fleet = !model.sites_of(Owner::Fleet).is_empty()
        && (model.sites_of(Owner::Customer).is_empty()
            || draw.chance(model.scenario.behaviour.fleet_share));
    let owner = if fleet { Owner::Fleet } else { Owner::Customer };
    let stranger = !fleet && draw.chance(model.scenario.behaviour.strangers);
    if stranger {
        for _ in 0..STRANGER_TRIES {
            let start = Start::draw(model, &mut draw, index, owner, true);
            let life = Course::begin(model, &mut draw, start).run();
            if !life.cases.is_empty() {
                return life;
            }
        }
    }
    let start = Start::draw(model, &mut draw, index, owner, false);
    Course::begin(model, &mut draw, start).run()
}

/// One vehicle under way. Time is in days since the epoch, with fractions; distance in metres.
struct Course<'a> {
    model: &'a Model,
    draw: &'a mut Draw,
    life: VehicleLife,
    /// In use since.
    in_service: f64,
    /// Days under record, from..to.
    span: (f64, f64),
    now: f64,
    /// Odometer at which the present engine was new.
    engine_from: f64,
    /// Chance that a failure brings the vehicle in while it is unknown.
    walk_in: f64,
    /// A customer before the records began, or a unit of the fleet: a walk-in only because the records do not go back.
    customer_anyway: bool,
    /// Never comes again but for a comeback.
    leaving: bool,
    known: bool,
    next_routine: f64,
    next_failure: Option<(f64, usize, u8)>,
    next_complaint: f64,
    next_statement: f64,
    /// Day and truth of a comeback that will still happen.
    comeback: Option<(f64, Opened)>,
    observed_from: Option<f64>,
    observed_to: f64,
    over: bool,
}

/// What happens next.
enum Event {
    Failure(usize, u8),
    Comeback,
    Complaint,
    Routine,
    Statement,
}

impl<'a> Course<'a> {
    fn begin(model: &'a Model, draw: &'a mut Draw, start: Start) -> Self {
        let mut course = Self {
            model,
            draw,
            in_service: start.in_service,
            span: (start.from, f64::from(model.days.1) + 1.0),
            now: start.from,
            engine_from: 0.0,
            walk_in: start.walk_in,
            customer_anyway: start.customer_anyway,
            leaving: false,
            known: false,
            next_routine: start.entry,
            next_failure: None,
            next_complaint: f64::INFINITY,
            next_statement: f64::INFINITY,
            comeback: None,
            observed_from: None,
            observed_to: f64::NEG_INFINITY,
            over: false,
            life: start.life,
        };
        course.draw_failure();
        course
    }

    fn run(mut self) -> VehicleLife {
        while let Some((at, event)) = self.next() {
            self.now = at;
            match event {
                Event::Failure(cause, cylinder) => self.fail(cause, cylinder),
                Event::Comeback => self.come_back(),
                Event::Complaint => self.complain(),
                Event::Routine => self.routine(),
                Event::Statement => self.statement(),
            }
            if self.over {
                break;
            }
        }
        self.close_stretch();
        self.life.visits.sort_by_key(|v| (v.day, v.odometer_m));
        self.life
    }

    /// The earliest of what can still happen before the records end.
    fn next(&self) -> Option<(f64, Event)> {
        let mut soonest = (self.next_routine, Event::Routine);
        let mut consider = |at: f64, event: Event| {
            if at.partial_cmp(&soonest.0) == Some(Ordering::Less) {
                soonest = (at, event);
            }
        };
        if let Some((at, cause, cylinder)) = self.next_failure {
            consider(at, Event::Failure(cause, cylinder));
        }
        if let Some((at, _)) = &self.comeback {
            consider(*at, Event::Comeback);
        }
        consider(self.next_complaint, Event::Complaint);
        consider(self.next_statement, Event::Statement);
        (soonest.0 < self.span.1).then_some(soonest)
    }

    fn odometer(&self, at: f64) -> f64 {
        (at - self.in_service) * self.life.metres_per_day
    }

    fn draw_failure(&mut self) {
        let engine = self.odometer(self.now) - self.engine_from;
        let limit = self.odometer(self.span.1) - self.engine_from;
        let next = self
            .model
            .hazards
            .get(self.life.family)
            .and_then(|h| h.next(engine, limit, self.draw));
        self.next_failure = next.map(|(m, cause, cylinder)| {
            (
                self.in_service + (m + self.engine_from) / self.life.metres_per_day,
                cause,
                cylinder,
            )
        });
    }

    /// Takes note that the vehicle is seen now.
    fn seen(&mut self) -> (Day, i64) {
        let odometer = self.odometer(self.now);
        let engine = odometer - self.engine_from;
        self.observed_from.get_or_insert(engine);
        self.observed_to = self.observed_to.max(engine);
        if !self.known {
            self.known = true;
            self.plan_around_visits();
        }
        (Day(self.now.floor() as i32), odometer.floor() as i64)
    }

    /// From the first sighting on, complaints without a fault and statements can happen too.
    fn plan_around_visits(&mut self) {
        let b = &self.model.scenario.behaviour;
        if self.life.owner == Owner::Customer && self.draw.chance(b.yearly_statement) {
            self.next_statement = schedule::statement_after(self.model, self.now);
        }
        self.next_complaint = schedule::complaint_after(self.model, self.draw, self.now);
    }

    fn close_stretch(&mut self) {
        if let Some(from) = self.observed_from.take() {
            self.life
                .observed
                .push((from.floor() as i64, self.observed_to.floor() as i64));
        }
    }

    fn site(&mut self) -> usize {
        let b = &self.model.scenario.behaviour;
        if self.life.owner == Owner::Fleet || self.draw.chance(b.loyalty) {
            return self.life.home;
        }
        *self
            .draw
            .pick(self.model.sites_of(self.life.owner))
            .unwrap_or(&self.life.home)
    }

    fn fail(&mut self, cause: usize, cylinder: u8) {
        let engine_m = (self.odometer(self.now) - self.engine_from).floor() as i64;
        let failure = Failure {
            cause,
            cylinder,
            engine_m,
        };
        let brought_in = if self.known {
            self.model.scenario.handling.seen
        } else {
            self.walk_in
        };
        if self.draw.chance(brought_in) {
            let walk_in = !self.known;
            let site = self.site();
            let (day, odometer_m) = self.seen();
            let opened = Opened {
                day,
                odometer_m,
                site,
                failure: Some(failure),
                walk_in,
                of: None,
            };
            self.handle(opened);
            if walk_in {
                self.decide_to_stay();
            }
        }
        self.draw_failure();
        if self.leaving {
            self.next_failure = None;
        }
    }

    /// A walk-in becomes a customer or never comes again (but for its comeback); decided whatever fails later.
    fn decide_to_stay(&mut self) {
        let b = &self.model.scenario.behaviour;
        if self.customer_anyway || self.draw.chance(b.walk_in_stays) {
            if self.life.owner == Owner::Customer {
                self.next_routine =
                    self.now + self.draw.lognormal(b.service_days[0], b.service_days[1]);
            }
            return;
        }
        self.leaving = true;
        self.over = self.comeback.is_none();
        self.next_routine = f64::INFINITY;
        self.next_complaint = f64::INFINITY;
        self.next_statement = f64::INFINITY;
    }

    /// Lets the shop work on the case, and carries out what follows from it.
    fn handle(&mut self, opened: Opened) {
        let after = casework::work(self.model, self.draw, &mut self.life, &opened);
        if let Some(days) = after.comeback_in_days {
            let days = days.min(1_500_000.0 / self.life.metres_per_day);
            let number = self.life.cases.len() as u32;
            self.comeback = Some((
                self.now + days,
                Opened {
                    of: Some(number),
                    walk_in: false,
                    ..opened
                },
            ));
        }
        if after.retired {
            self.over = true;
        }
        if after.engine_replaced {
            self.replace_engine(after.closed, opened.site);
        }
    }

    /// The new engine is in at the end of the day on which the case is closed; its own distance begins there.
    fn replace_engine(&mut self, closed: Day, site: usize) {
        let at = f64::from(closed.0) + 0.999;
        let odometer = self.odometer(at.max(self.now));
        self.observed_to = odometer - self.engine_from;
        self.close_stretch();
        self.engine_from = odometer;
        self.observed_from = Some(0.0);
        self.observed_to = 0.0;
        self.life.visits.push(Visit {
            day: closed,
            odometer_m: odometer.floor() as i64,
            site,
            kind: VisitKind::EngineReplaced,
        });
    }

    fn come_back(&mut self) {
        let Some((_, opened)) = self.comeback.take() else {
            return;
        };
        let (day, odometer_m) = self.seen();
        self.handle(Opened {
            day,
            odometer_m,
            ..opened
        });
        self.over |= self.leaving;
        // A new engine begins a new clock: the failure drawn on the old one can no longer happen.
        self.draw_failure();
    }

    fn complain(&mut self) {
        let site = self.site();
        let (day, odometer_m) = self.seen();
        self.handle(Opened {
            day,
            odometer_m,
            site,
            failure: None,
            walk_in: false,
            of: None,
        });
        self.next_complaint = schedule::complaint_after(self.model, self.draw, self.now);
    }

    fn routine(&mut self) {
        let b = &self.model.scenario.behaviour;
        let (kind, stop) = match self.life.owner {
            Owner::Customer => (VisitKind::Service, b.stop_at_service),
            Owner::Fleet => (VisitKind::Poll, b.stop_at_poll),
        };
        let site = if kind == VisitKind::Poll {
            self.life.home
        } else {
            self.site()
        };
        let (day, odometer_m) = self.seen();
        self.life.visits.push(Visit {
            day,
            odometer_m,
            site,
            kind,
        });
        let retire = odometer_m > 300_000_000 && kind == VisitKind::Service;
        let lost = self.draw.chance(stop) | (retire && self.draw.chance(b.retire_at_service));
        // Whoever waits for a comeback is not lost before it.
        if lost && self.comeback.is_none() {
            self.over = true;
        }
        self.next_routine = match kind {
            VisitKind::Poll => schedule::poll_after(self.span.1, self.now),
            _ => {
                self.now
                    + self
                        .draw
                        .lognormal(b.service_days[0], b.service_days[1])
                        .max(14.0)
            }
        };
    }

    fn statement(&mut self) {
        let (day, odometer_m) = self.seen();
        let site = self.life.home;
        self.life.visits.push(Visit {
            day,
            odometer_m,
            site,
            kind: VisitKind::Statement,
        });
        self.next_statement = schedule::statement_after(self.model, self.now);
    }
}
