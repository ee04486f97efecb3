//! All figures of one outlet, put together.

use num_complex::Complex64;
use solver::SolveError;

use super::coils::{Given, coils};
use super::hum::{self, nowhere, signal_over_hum};
use super::impedance::{Impedance, output_impedance};
use super::level::{brightness, level, string_level};
use super::noise::thermal_noise;
use super::profile::Magnitude;
use super::resonance::{corners, resonances, the_resonance};
use super::sampler::{Each, Sampler};
use super::spectrum::Spectrum;
use super::sweep::{Spot, Sweep, Wiring, driven};
use super::track::{Along, Heard, Lost, Spots, Trace, Track};
use super::{
    CoilInPlay, Connection, Figure, Hum, Lcr, Level, OutletFigures, OutputImpedance, ThermalNoise, Why,
};
use crate::float::{ln, power_db};
use crate::harness::Harness;
use crate::network::Network;

/// A plateau steeper than this is *sloped*, dB per octave.
const SLOPED: f64 = 0.5;

/// How each coil is connected, and what is left with one lead of it lifted.
pub(crate) type Standing<'s> = (Vec<Connection>, Vec<Option<Option<&'s [Complex64]>>>);

/// What is known of one outlet before its figures are made.
pub(crate) struct Setup<'s> {
    pub(crate) harness: &'s Harness,
    pub(crate) network: &'s Network,
    pub(crate) wiring: &'s Wiring,
    pub(crate) outlet: usize,
    /// How each coil is connected, and what is left at this outlet with one lead of it lifted; None where nobody asks for coils.
    pub(crate) standing: Option<Standing<'s>>,
    /// Coils with values that the file does not state.
    pub(crate) assumed: &'s [bool],
    /// Coils with neither winding capacitance nor core loss.
    pub(crate) optimistic: &'s [bool],
    /// Cable or amp are not stated.
    pub(crate) load_assumed: bool,
}

/// What is found of an outlet with its cable and amp.
struct Sound {
    given: Given,
    hum: Hum,
    /// V²/Hz at 1 kHz.
    density_1k: f64,
    /// At 100 Hz.
    here: Spot,
    spectrum: Spectrum,
}

impl Setup<'_> {
    /// `plugged` and `bare` are the same state with and without what is plugged in. With it what other values may be expected to show
    /// again.
    pub(crate) fn figures(
        &self,
        plugged: &mut Sweep<'_>,
        bare: &mut Sweep<'_>,
    ) -> Result<(OutletFigures, Option<Trace>), SolveError> {
        let outlet = self.outlet;
        let bench = bare.impedance_course(outlet)?;
        let (impedance, lcr) = output_impedance(&bench, |f| {
            Ok::<_, SolveError>(bare.impedance(outlet, f)?.map(|(z, dz)| Impedance(z, dz)))
        })?;
        let (at_100, at_1k) = (plugged.transfers(outlet, 100.0)?, plugged.transfers(outlet, 1000.0)?);
        let (Some(at_100), Some(at_1k)) = (at_100, at_1k) else {
            return Ok((self.nowhere(impedance, lcr), None));
        };
        let sections = &self.network.sections;
        let groups = &self.wiring.groups;
        let mut buzz = Vec::new();
        for f in hum::places(self.harness.mains) {
            // A path at 100 Hz is a path at every frequency above 0.
            let transfers = plugged.transfers(outlet, f)?.unwrap_or_default();
            buzz.push(driven(&transfers, sections, |s| s.hum));
        }
        let density_1k = plugged.heard(outlet, 1000.0)?.map_or(0.0, |heard| heard.noise);
        let course = plugged.course(outlet)?;
        let mut sample = |u: f64| {
            let spot = plugged.spot(outlet, groups, u)?;
            Ok::<_, SolveError>(spot.unwrap_or_default())
        };
        let sound = Sound {
            given: Given {
                at_100: driven(&at_100, sections, |s| s.signal),
                at_1k: driven(&at_1k, sections, |s| s.signal),
            },
            hum: hum::hum(&buzz),
            density_1k,
            here: sample(ln(100.0))?,
            spectrum: Spectrum::of(&course, &mut sample)?,
        };
        let trace = Trace::of(&sound.spectrum, &course, &bench);
        Ok((self.together((impedance, lcr), sound, &mut Each(sample))?, trace))
    }

    /// The same where the file's values left a trace.
    pub(crate) fn tracked(
        &self,
        track: &Track,
        plugged: &mut Along<'_>,
        bare: &mut Along<'_>,
    ) -> Result<OutletFigures, Lost> {
        let bench = track.bench(bare)?;
        let mut spots = Spots::new(plugged, track, &self.network.sections, &self.wiring.groups);
        let Heard { given, hum, density_1k, here, ends } = track.heard(&mut spots)?;
        let spectrum = track.spectrum(&mut spots, ends)?;
        let sound = Sound { given, hum, density_1k, here, spectrum };
        self.together(bench, sound, &mut spots)
    }

    fn together<E>(
        &self,
        (impedance, lcr): (OutputImpedance, Lcr),
        sound: Sound,
        sampler: &mut impl Sampler<Spot, E>,
    ) -> Result<OutletFigures, E> {
        let Sound { given, hum, density_1k, here, spectrum } = sound;
        let sections = &self.network.sections;
        let groups = &self.wiring.groups;
        let several_sound = groups.several(&given.at_100) || groups.several(&given.at_1k);
        let square = if here.loud { Ok(here.square()) } else { Err(Why::Silent) };
        let plateau = square.map(power_db);
        // d(10 lg |H|²)/d(lb f).
        let slope: Figure =
            square.map(|s| 10.0 * std::f64::consts::LOG10_E * here.slope() / s * std::f64::consts::LN_2);
        let resonances = resonances(&spectrum, plateau, sampler)?;
        let resonance = the_resonance(&resonances, plateau);
        let (corner, last_corner) = corners(&spectrum, ln(100.0), square, sampler)?;

        let sounding: Vec<usize> = (0..sections.len()).filter(|&i| given.contributes(i)).collect();
        let string_level = string_level(&spectrum, several_sound);
        Ok(OutletFigures {
            plateau,
            slope,
            sloped: slope.is_ok_and(|s| s.abs() > SLOPED),
            height: resonance.and_then(|i| resonances[i].height),
            height_re: Err(Why::ReferenceSilent),
            resonances,
            resonance,
            corner,
            last_corner,
            level: level(&spectrum, several_sound),
            brightness: brightness(&spectrum, several_sound),
            several_sound,
            no_string_drives: groups.no_common_string(&sounding),
            signal_over_hum: signal_over_hum((string_level.shown, hum.fundamental), None),
            string_level,
            hum,
            impedance,
            lcr,
            noise: thermal_noise(&spectrum, density_1k),
            main_coil: given.main(sections),
            assumed: self.load_assumed || sounding.iter().any(|&i| self.assumed[i]),
            optimistic_peak: sounding.iter().any(|&i| self.optimistic[i]),
            coils: self.coils(&given),
        })
    }

    /// None where nobody asks for them.
    fn coils(&self, given: &Given) -> Vec<CoilInPlay> {
        let Some((connections, lifted)) = &self.standing else { return Vec::new() };
        coils(&self.network.sections, connections, given, lifted, self.assumed)
    }

    /// The amp input has no path to ground.
    fn nowhere(&self, impedance: OutputImpedance, lcr: Lcr) -> OutletFigures {
        let open: Figure = Err(Why::Open);
        let level = Level {
            coherent: open,
            powers: open,
            shown: open,
            coherent_re: open,
            powers_re: open,
            shown_re: open,
        };
        let sections = &self.network.sections;
        let nothing = Given {
            at_100: vec![Complex64::ZERO; sections.len()],
            at_1k: vec![Complex64::ZERO; sections.len()],
        };
        let coils = self.coils(&nothing);
        OutletFigures {
            plateau: open,
            slope: open,
            sloped: false,
            resonances: Vec::new(),
            resonance: Err(Why::Open),
            height: open,
            height_re: open,
            corner: open,
            last_corner: open,
            level,
            string_level: level,
            brightness: level,
            several_sound: false,
            no_string_drives: false,
            hum: nowhere(),
            signal_over_hum: signal_over_hum((open, open), None),
            impedance,
            lcr,
            noise: ThermalNoise { density_1k: open, flat: open, a_weighted: open },
            coils,
            main_coil: None,
            assumed: self.load_assumed,
            optimistic_peak: false,
        }
    }
}
