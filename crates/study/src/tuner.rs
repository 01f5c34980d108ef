//! Tuning by the model: fit, move within the deadband, throw what teaches most, stop when nothing pays.

use std::cell::RefCell;
use std::collections::HashMap;

use arcwright_model::floor::next::{
    Candidate, Move, Opening, SpotView, Tally, Trust, best_for, best_shot, candidate, centred_setpoint,
    recommend, setpoint_sd_radps, spot_view,
};
use arcwright_model::floor::rehearse::{HiddenSimple, Look, SimplePrior};
use arcwright_model::floor::{
    Edges, FitOptions, Forward, Landing, M1, M1Shot, Posterior, Prediction, Prior, Share, TimedFall, Zone,
    fit_with,
};
use arcwright_model::numerics::random::{Stream, hash};

use crate::robot::{ANGLE_RAD, JUDGED_M, PIECES, TUNED_M, Table, VOLLEY, ask, model, plain};

/// What the helpers look at.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Data {
    /// Only what became of it.
    Class,
    /// The miss by eye as well.
    Eye,
    /// One third floor landings by tape, else what became of it and a clock; the wheel after always.
    Mixed,
    /// Landing by tape, a clock and the wheel after.
    Measured,
    /// Landing by tape alone.
    Landing,
}

impl Data {
    /// What is printed.
    pub fn words(self) -> &'static str {
        match self {
            Data::Class => "model, in or out only",
            Data::Eye => "model, miss by eye",
            Data::Mixed => "model, mixed",
            Data::Measured => "model, all measured",
            Data::Landing => "model, floor landings only",
        }
    }

    /// What is looked at in one shot of the session.
    fn look(self, index: usize) -> Look {
        let tape = match self {
            Data::Landing | Data::Measured => true,
            Data::Mixed => index % 3 == 2,
            Data::Class | Data::Eye => false,
        };
        Look {
            tape,
            clock: self == Data::Measured || self == Data::Mixed && !tape,
            eye: self == Data::Eye,
            outcome: !tape,
            after: matches!(self, Data::Mixed | Data::Measured),
            ..Look::default()
        }
    }
}

/// A shot with its place in the volley and its piece.
#[derive(Clone, Copy, Debug, PartialEq, Default)]
pub struct PlacedShot {
    /// As the plain model reads it.
    pub shot: M1Shot,
    /// Which piece; none stands for the mean of all.
    pub piece: Option<u32>,
    /// Place in the volley.
    pub place: u32,
    /// The last of the volley.
    pub last: bool,
}

/// The plain model, with terms for volley and pieces where they are asked for.
///
/// Only four of its inputs bend a flight, so flights are remembered between the many looks that a fit takes at a
/// shot.
#[derive(Clone, Debug)]
pub struct Fitted {
    plain: M1,
    uneven: bool,
    flown: RefCell<HashMap<[u64; 8], Prediction>>,
}

/// Method: flights kept before all are forgotten.
const MOST_FLOWN: usize = 20_000;

impl Fitted {
    fn new(machine: &HiddenSimple, uneven: bool) -> Fitted {
        Fitted {
            plain: model(machine),
            uneven,
            flown: RefCell::new(HashMap::new()),
        }
    }

    /// The prediction for a shot that flies straight at the middle, with ln κ of 0.
    fn straight(&self, inputs: &[f64], shot: &M1Shot) -> Option<Prediction> {
        let height = shot.fall.map_or(0.0, |f| f.height_m);
        let pattern = u64::from(shot.landing.is_some())
            + 2 * u64::from(shot.after_radps.is_some())
            + 4 * u64::from(shot.miss_m.is_some())
            + 8 * u64::from(shot.zone.is_some());
        let mut key = [pattern; 8];
        let numbers = [shot.wheel_radps, shot.distance_m, height];
        for (k, x) in key.iter_mut().skip(1).zip(numbers.iter().chain(inputs)) {
            *k = x.to_bits();
        }
        if let Some(known) = self.flown.borrow().get(&key) {
            return Some(known.clone());
        }
        let mut straight = inputs.to_vec();
        *straight.get_mut(4)? = shot.aim_rad;
        *straight.get_mut(8)? = 0.0;
        let fresh = self.plain.predict(&straight, shot)?;
        let mut flown = self.flown.borrow_mut();
        if flown.len() > MOST_FLOWN {
            flown.clear();
        }
        flown.insert(key, fresh.clone());
        Some(fresh)
    }
}

/// What was read of this shot, in the order of the plain model's channels.
fn readings(shot: &M1Shot) -> impl Iterator<Item = f64> {
    let landing = shot.landing.map(|l| [l.along_m, l.across_m]);
    let first = landing.into_iter().flatten().chain(shot.fall.map(|f| f.time_s));
    first
        .chain(shot.after_radps)
        .chain(shot.miss_m.into_iter().flatten())
}

/// A point straight ahead (of a pair along, across) turned by ψ, with the sensitivities.
fn turn(along: f64, by: [f64; 3], psi: f64) -> [(f64, [f64; 3]); 2] {
    let (s, c) = psi.sin_cos();
    [
        (along * c, [by[0] * c, by[1] * c, -along * s]),
        (along * s, [by[0] * s, by[1] * s, along * c]),
    ]
}

/// Parameters of the plain model.
const PLAIN: usize = 9;

impl Forward for Fitted {
    type Shot = PlacedShot;

    fn predict(&self, inputs: &[f64], shot: &PlacedShot) -> Option<Prediction> {
        let mut p = self.straight(inputs, &shot.shot)?;
        for (channel, read) in p.channels.iter_mut().zip(readings(&shot.shot)) {
            channel.observed = read;
        }
        if shot.shot.after_radps.is_some() {
            let place = 2 * usize::from(shot.shot.landing.is_some()) + usize::from(shot.shot.fall.is_some());
            let channel = p.channels.get_mut(place)?;
            // κ v², from the wheel speed that κ = 1 would leave.
            let before = shot.shot.wheel_radps;
            let taken = (before * before - channel.predicted * channel.predicted) * inputs.get(8)?.exp();
            channel.predicted = (before * before - taken).sqrt();
            channel.sensitivity = [-taken / channel.predicted, 0.0, 0.0];
        }
        let psi = inputs.get(4)? - shot.shot.aim_rad;
        p.accident_variance = [5, 6, 7].map(|i: usize| inputs.get(i).map_or(f64::NAN, |ln| (2.0 * ln).exp()));
        let pairs = [
            shot.shot.landing.map(|_| (0, 0.0)),
            shot.shot
                .miss_m
                .map(|_| (p.channels.len().wrapping_sub(2), shot.shot.distance_m)),
        ];
        for (at, centre_m) in pairs.into_iter().flatten() {
            if let Some([along, across]) = p
                .channels
                .get_mut(at..at + 2)
                .and_then(|c| <&mut [_; 2]>::try_from(c).ok())
            {
                let [x, y] = turn(along.predicted + centre_m, along.sensitivity, psi);
                (along.predicted, along.sensitivity) = (x.0 - centre_m, x.1);
                (across.predicted, across.sensitivity) = y;
            }
        }
        if let (Some(call), Some(zone)) = (&mut p.call, shot.shot.zone) {
            call.zone = zone;
            let [x, y] = turn(
                call.predicted_m[0] + shot.shot.distance_m,
                call.sensitivity[0],
                psi,
            );
            call.predicted_m = [x.0 - shot.shot.distance_m, y.0];
            call.sensitivity = [x.1, y.1];
            // The reference model has squares; people call by the ring itself.
            let side = |radius_m: f64| [[-radius_m, radius_m]; 2];
            call.edges = Edges {
                in_m: side(self.plain.inner_radius_m),
                out_m: side(self.plain.outer_radius_m),
                round: true,
            };
        }
        Some(p)
    }

    fn design(&self, shot: &PlacedShot) -> Option<Vec<Share>> {
        if !self.uneven {
            return None;
        }
        let share = |input, parameter, share_coeff| Share {
            input,
            parameter,
            share_coeff,
        };
        let mut out: Vec<Share> = (0..PLAIN).map(|j| share(j, j, 1.0)).collect();
        out.push(share(0, PLAIN, f64::from(shot.place)));
        out.push(share(0, PLAIN + 1, if shot.last { 1.0 } else { 0.0 }));
        if let Some(piece) = shot.piece {
            out.push(share(0, PLAIN + 2 + piece as usize, 1.0));
        }
        Some(out)
    }

    fn input_count(&self) -> usize {
        PLAIN
    }

    fn leading(&self) -> &[usize] {
        self.plain.leading()
    }
}

/// Prior of the terms for volley and pieces: one per cent for a place, half that and a bit for a piece.
const PLACE_SD: f64 = 0.01;
const PIECE_SD: f64 = 0.0075;

fn prior(uneven: bool) -> Prior {
    let plain = SimplePrior::default();
    let (mut mean, mut sd) = (plain.mean.to_vec(), plain.sd.to_vec());
    if uneven {
        sd.extend([PLACE_SD; 2]);
        sd.extend(vec![PIECE_SD; PIECES as usize]);
        mean.resize(sd.len(), 0.0);
    }
    Prior { mean, sd }
}

/// What was known after a number of shots.
#[derive(Clone, Debug)]
pub struct Known {
    /// Shots so far.
    pub shots: usize,
    /// Setpoints for the judged distances.
    pub table: Table,
    /// Their standard deviations, without and with what the small log leaves.
    pub setpoint_sd_radps: Vec<f64>,
    /// Fitted parameters of the plain model.
    pub mean: Vec<f64>,
    /// Their standard deviations with what the small log leaves.
    pub sd: Vec<f64>,
}

/// A session.
#[derive(Clone, Debug, Default)]
pub struct Session {
    /// What was known at each of the shot counts asked for.
    pub known: Vec<Known>,
    /// After how many shots the stop rule said so first, and the table then.
    pub stopped: Option<(usize, Table, f64)>,
    /// How often the speed of a spot was moved.
    pub moves: usize,
    /// Fits that did not settle.
    pub unsettled: usize,
}

/// How a session is played.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Manner {
    /// What is looked at.
    pub data: Data,
    /// The model has terms for volley and pieces.
    pub uneven_terms: bool,
    /// Spots are gone through in turn instead of by what teaches most.
    pub in_turn: bool,
}

/// A shot of which only the outcome would be seen.
fn called(distance_m: f64, setpoint: f64, turned: f64) -> PlacedShot {
    PlacedShot {
        shot: M1Shot {
            wheel_radps: setpoint,
            angle_rad: ANGLE_RAD,
            distance_m,
            aim_rad: -turned,
            zone: Some(Zone::In),
            ..M1Shot::default()
        },
        ..PlacedShot::default()
    }
}

/// A shot with readings wherever there would be some; their values are not looked at.
fn planned(machine: &HiddenSimple, look: &Look, from: PlacedShot) -> PlacedShot {
    let floor_m = 0.5 * machine.ring.diameter_m;
    let shot = M1Shot {
        landing: look.tape.then_some(Landing {
            along_m: 0.0,
            across_m: 0.0,
            height_m: floor_m,
        }),
        fall: look.clock.then_some(TimedFall {
            time_s: 0.0,
            height_m: if look.tape {
                floor_m
            } else {
                machine.ring.ring_height_m
            },
        }),
        after_radps: look.after.then_some(0.0),
        miss_m: look.eye.then_some([0.0; 2]),
        zone: look.outcome.then_some(Zone::In),
        ..from.shot
    };
    PlacedShot { shot, ..from }
}

/// Knobs of the session: wheel speed for each tuned distance, turn for all.
#[derive(Clone, Copy, Debug)]
struct Knobs {
    setpoint: [f64; 4],
    turned: f64,
}

/// The design's setpoints at the tuned distances, and how far the crossing moves for a change of ln speed.
pub fn design(machine: &HiddenSimple) -> ([f64; 4], [f64; 4]) {
    let prior = prior(false);
    let forward = Fitted::new(machine, false);
    let setpoint = TUNED_M.map(|d| setpoint_for(&forward, &prior.mean, d, 0.0));
    let mut per = [0.0; 4];
    for (k, d) in TUNED_M.iter().enumerate() {
        let call = forward
            .predict(&prior.mean, &called(*d, setpoint[k], 0.0))
            .and_then(|p| p.call);
        per[k] = call.map_or(f64::NAN, |c| c.sensitivity[0][0]);
    }
    (setpoint, per)
}

fn setpoint_for(forward: &Fitted, mean: &[f64], distance_m: f64, turned: f64) -> f64 {
    // Near enough for any machine of the prior to start from.
    const START_RADPS: f64 = 340.0;
    centred_setpoint(forward, mean, START_RADPS, |w| called(distance_m, w, turned)).unwrap_or(f64::NAN)
}

/// Plays a session of `shots` shots by what the model says; what was known is kept at each of `kept`.
pub fn tune(manner: &Manner, machine: &mut HiddenSimple, shots: usize, kept: &[usize], seed: u64) -> Session {
    let forward = Fitted::new(machine, manner.uneven_terms);
    let prior = prior(manner.uneven_terms);
    let mut log: Vec<PlacedShot> = Vec::with_capacity(shots);
    let mut out = Session::default();
    let (setpoint, _) = design(machine);
    let mut knobs = Knobs {
        setpoint,
        turned: 0.0,
    };
    let mut pieces = Stream::new(seed, hash(seed, 1));
    let mut options = FitOptions::default();
    let Ok(mut posterior) = fit_with(&forward, &prior, &log, &options) else {
        return out;
    };
    let mut tallies = TUNED_M.map(|distance_m| Tally {
        distance_m,
        shot_count: 0,
    });
    for index in 0..shots {
        let look = manner.data.look(index);
        let place = index as u32 % VOLLEY;
        // Moves are free, so all that pay are made before the throw: speeds, then the turn, which serves all.
        let views = spots(&forward, &posterior, machine, &knobs);
        let mut turn_by = 0.0;
        for (spot, view) in views.iter().enumerate().take(TUNED_M.len()) {
            match recommend(view, &posterior.covariance, [0.0, f64::INFINITY]) {
                Move::Change(change) if change.knob == "turn" => turn_by = change.by,
                Move::Change(_) => {
                    out.moves += 1;
                    let to = setpoint_for(&forward, &posterior.mean, TUNED_M[spot], knobs.turned);
                    // Where the model has no answer the speed stays.
                    if to.is_finite() {
                        knobs.setpoint[spot] = to;
                    }
                }
                Move::LeaveAlone { .. } => {}
            }
        }
        knobs.turned += turn_by;
        let views = spots(&forward, &posterior, machine, &knobs);
        let mut choices = candidates(manner.data, &forward, &posterior, machine, &knobs, &look, place);
        choices.sort_by_key(|c| tallies[c.0.spot_index.min(3)].shot_count);
        let shots: Vec<Candidate> = choices.iter().map(|c| c.0.clone()).collect();
        let settled = posterior.converged && posterior.definite;
        let trust = Trust::of(settled, &posterior);
        let next = best_for(&views, &posterior.doubt(), &shots, &tallies, trust);
        let fewest = tallies.iter().map(|t| t.shot_count).min().unwrap_or(0);
        let due = tallies.iter().position(|t| t.shot_count == fewest).unwrap_or(0);
        if let (None, Some((_, verdict))) = (&out.stopped, &next)
            && verdict.now()
        {
            let table = known(&forward, &posterior, index).table;
            out.stopped = Some((index, table, verdict.mean_loss_frac));
        }
        let chosen = if manner.in_turn && manner.data == Data::Class {
            let these: Vec<usize> = (0..shots.len()).filter(|i| shots[*i].spot_index == due).collect();
            let few: Vec<Candidate> = these.iter().map(|i| shots[*i].clone()).collect();
            best_shot(&views, &posterior.covariance, &few).map_or(0, |c| these[c.index])
        } else if manner.in_turn {
            (0..shots.len())
                .find(|i| shots[*i].spot_index == due)
                .unwrap_or(0)
        } else {
            next.map_or(0, |(choice, _)| choice.index)
        };
        let Some((spot, setpoint)) = choices.get(chosen).map(|c| (c.0.spot_index, c.1)) else {
            return out;
        };
        let distance_m = TUNED_M[spot.min(3)];
        let mut asked = ask(machine, distance_m, setpoint, knobs.turned);
        asked.place = place;
        asked.last = place + 1 == VOLLEY;
        asked.piece = Some((pieces.uniform() * f64::from(PIECES)) as u32);
        let seen = machine.throw(&asked, &look);
        log.push(PlacedShot {
            shot: plain(&seen, machine),
            piece: asked.piece,
            place: asked.place,
            last: asked.last,
        });
        tallies[spot.min(3)].shot_count += 1;
        // Early every shot changes the picture, later they come in volleys.
        let count = index + 1;
        let refits = count <= 8 || count.is_multiple_of(if count <= 16 { 2 } else { 4 });
        if !refits {
            continue;
        }
        options.start = Some(posterior.mean.clone());
        if let Ok(mut found) = fit_with(&forward, &prior, &log, &options) {
            // Where the last result leads nowhere, from the beginning.
            if !(found.converged && found.definite)
                && let Ok(afresh) = fit_with(&forward, &prior, &log, &FitOptions::default())
                && (afresh.converged && afresh.definite || afresh.neg_log_posterior < found.neg_log_posterior)
            {
                found = afresh;
            }
            out.unsettled += usize::from(!(found.converged && found.definite));
            posterior = found;
        }
        if kept.contains(&(index + 1)) {
            out.known.push(known(&forward, &posterior, index + 1));
        }
    }
    out
}

fn spots(forward: &Fitted, posterior: &Posterior, machine: &HiddenSimple, knobs: &Knobs) -> Vec<SpotView> {
    let opening = Opening::Round {
        along_m: machine.ring.in_radius_m,
        across_m: machine.ring.in_radius_m,
    };
    let each = TUNED_M.iter().zip(knobs.setpoint);
    each.filter_map(|(d, w)| spot_view(forward, posterior, &called(*d, w, knobs.turned), *d, opening))
        .collect()
}

/// The shots to choose from with the setpoint of each; with outcomes alone some are aimed at the edge on purpose.
fn candidates(
    data: Data,
    forward: &Fitted,
    posterior: &Posterior,
    machine: &HiddenSimple,
    knobs: &Knobs,
    look: &Look,
    place: u32,
) -> Vec<(Candidate, f64)> {
    let mut out = Vec::new();
    let mut offer = |spot: usize, setpoint: f64| {
        let from = PlacedShot {
            place,
            last: place + 1 == VOLLEY,
            ..called(TUNED_M[spot], setpoint, knobs.turned)
        };
        if let Some(c) = candidate(forward, posterior, &planned(machine, look, from), spot) {
            out.push((c, setpoint));
        }
    };
    for (spot, setpoint) in knobs.setpoint.iter().enumerate() {
        offer(spot, *setpoint);
    }
    if data == Data::Class {
        for (spot, d) in TUNED_M.iter().enumerate() {
            for edge_m in [-machine.ring.in_radius_m, machine.ring.in_radius_m] {
                let to = setpoint_for(forward, &posterior.mean, d + edge_m, knobs.turned);
                if to.is_finite() {
                    offer(spot, to);
                }
            }
        }
    }
    out
}

fn known(forward: &Fitted, posterior: &Posterior, shots: usize) -> Known {
    let turned_rad = -posterior.mean.get(4).copied().unwrap_or(f64::NAN);
    let setpoint_radps: Vec<f64> = JUDGED_M
        .iter()
        .map(|d| setpoint_for(forward, &posterior.mean, *d, turned_rad))
        .collect();
    let opening = Opening::Round {
        along_m: 1.0,
        across_m: 1.0,
    };
    let setpoint_sd = JUDGED_M.iter().zip(&setpoint_radps).map(|(d, w)| {
        spot_view(forward, posterior, &called(*d, *w, turned_rad), *d, opening)
            .map_or(f64::NAN, |v| setpoint_sd_radps(&v, posterior, *w))
    });
    Known {
        shots,
        setpoint_sd_radps: setpoint_sd.collect(),
        table: Table {
            setpoint_radps,
            turned_rad,
        },
        mean: posterior.mean.iter().take(PLAIN).copied().collect(),
        sd: (0..PLAIN)
            .map(|j| posterior.sd(j) * posterior.small_sample_ratio())
            .collect(),
    }
}

/// The design's own table.
pub fn untuned(machine: &HiddenSimple) -> Table {
    let forward = Fitted::new(machine, false);
    let mean = prior(false).mean;
    Table {
        setpoint_radps: JUDGED_M
            .iter()
            .map(|d| setpoint_for(&forward, &mean, *d, 0.0))
            .collect(),
        turned_rad: 0.0,
    }
}
