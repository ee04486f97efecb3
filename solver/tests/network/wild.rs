//! Any bytes as a circuit with any numbers, asked everything: no panic, and no answer that is not a number.

use num_complex::Complex64;
use solver::{
    Band, Branch, Circuit, Contact, Excitation, Farads, Gain, Henries, Hertz, Identity, Impedance, Inductor,
    Kelvin, Layout, Matrix, Multiport, Node, Noise, Ohms, Output, Point, Port, Reading, Relation, Response,
    Siemens, SolveError, Source, Subject, Values,
};

/// Numbers that break things.
const SPECIAL: [f64; 24] = [
    0.0,
    -0.0,
    1.0,
    -1.0,
    5e-324,
    1e-310,
    f64::MIN_POSITIVE,
    1e-300,
    1e-160,
    1e-17,
    0.1,
    2.0,
    1e17,
    1e160,
    1e300,
    f64::MAX,
    f64::INFINITY,
    f64::NEG_INFINITY,
    f64::NAN,
    -1e300,
    -5e-324,
    1.0 + f64::EPSILON,
    1.0 - f64::EPSILON,
    0.5,
];

/// Bytes, then zeros for ever.
struct Bytes<'a>(&'a [u8]);

impl Bytes<'_> {
    fn byte(&mut self) -> u8 {
        let (first, rest) = self.0.split_first().unwrap_or((&0, &[]));
        self.0 = rest;
        *first
    }

    fn below(&mut self, n: usize) -> usize {
        usize::from(self.byte()) % n.max(1)
    }

    fn flag(&mut self) -> bool {
        self.byte() % 2 == 1
    }

    fn of<T: Copy>(&mut self, list: &[T]) -> Option<T> {
        let at = self.below(list.len());
        list.get(at).copied()
    }

    /// Half of all are ordinary.
    fn number(&mut self) -> f64 {
        let kind = self.byte();
        if kind.is_multiple_of(2) {
            let exponent = i32::from(self.byte() % 25) - 12;
            (1.0 + f64::from(self.byte()) / 28.4) * 10f64.powi(exponent)
        } else {
            SPECIAL[usize::from(kind / 2) % SPECIAL.len()]
        }
    }
}

/// What was built. Refused values leave their element out.
struct Wild {
    circuit: Circuit,
    nodes: Vec<Node>,
    branches: Vec<Branch>,
    coils: Vec<Inductor>,
    contacts: Vec<Contact>,
    gains: Vec<Gain>,
}

fn build(bytes: &mut Bytes<'_>) -> Wild {
    let mut circuit = Circuit::new();
    let mut nodes = vec![circuit.ground()];
    nodes.extend((0..bytes.below(7)).map(|_| circuit.node("n")));
    let mut wild = Wild {
        circuit,
        nodes,
        branches: Vec::new(),
        coils: Vec::new(),
        contacts: Vec::new(),
        gains: Vec::new(),
    };
    for _ in 0..bytes.below(24) {
        add(&mut wild, bytes);
    }
    wild
}

fn add(wild: &mut Wild, bytes: &mut Bytes<'_>) {
    let kind = bytes.byte() % 14;
    let [a, b, c, d] = [0; 4].map(|_| bytes.of(&wild.nodes).unwrap());
    let circuit = &mut wild.circuit;
    match kind {
        0 | 1 => {
            wild.branches.extend(circuit.resistor("r", a, b, Ohms(bytes.number())).ok().map(Branch::Resistor))
        }
        2 => wild
            .branches
            .extend(circuit.capacitor("c", a, b, Farads(bytes.number())).ok().map(Branch::Capacitor)),
        3 => {
            let coil = circuit.inductor("l", a, b, Henries(bytes.number())).ok();
            wild.coils.extend(coil);
            wild.branches.extend(coil.map(Branch::Inductor));
        }
        4 => {
            if let (Some(one), Some(two)) = (bytes.of(&wild.coils), bytes.of(&wild.coils)) {
                let _ = circuit.couple(one, two, bytes.number());
            }
        }
        5 => {
            let contact = circuit.contact("k", a, b, bytes.flag()).unwrap();
            wild.contacts.push(contact);
            wild.branches.push(Branch::Contact(contact));
        }
        6 => wild.branches.push(Branch::VoltageSource(circuit.voltage_source("e", a, b).unwrap())),
        7 => drop(circuit.current_source("i", a, b).unwrap()),
        8 => {
            if let Ok(e) = circuit.vcvs("vcvs", a, b, c, d, bytes.number()) {
                wild.branches.push(Branch::Vcvs(e));
                wild.gains.push(Gain::Vcvs(e));
            }
        }
        9 => wild.gains.extend(circuit.vccs("vccs", a, b, c, d, Siemens(bytes.number())).map(Gain::Vccs)),
        10 => {
            if let Some(control) = bytes.of(&wild.branches)
                && let Ok(e) = circuit.ccvs("ccvs", a, b, control, Ohms(bytes.number()))
            {
                wild.branches.push(Branch::Ccvs(e));
                wild.gains.push(Gain::Ccvs(e));
            }
        }
        11 => {
            if let Some(control) = bytes.of(&wild.branches) {
                wild.gains.extend(circuit.cccs("cccs", a, b, control, bytes.number()).map(Gain::Cccs));
            }
        }
        12 => drop(circuit.op_amp("o", a, b, c, d).unwrap()),
        _ => wild.gains.extend(circuit.transformer("t", a, b, c, d, bytes.number()).map(Gain::Transformer)),
    }
}

/// Some other values, where they are allowed.
fn change(wild: &Wild, values: &mut Values, bytes: &mut Bytes<'_>) {
    for _ in 0..bytes.below(6) {
        match (bytes.of(&wild.branches), bytes.byte() % 3) {
            (Some(Branch::Resistor(e)), _) => drop(values.set_resistance(e, Ohms(bytes.number()))),
            (Some(Branch::Capacitor(e)), _) => drop(values.set_capacitance(e, Farads(bytes.number()))),
            (Some(Branch::Inductor(e)), _) => drop(values.set_inductance(e, Henries(bytes.number()))),
            (Some(Branch::Contact(e)), _) => drop(values.set_contact(e, bytes.flag())),
            (_, 0) => drop(bytes.of(&wild.gains).map(|gain| values.set_gain(gain, bytes.number()))),
            (_, 1) => drop(bytes.of(&wild.contacts).map(|e| values.set_contact(e, bytes.flag()))),
            _ => {}
        }
    }
}

/// A number that is one.
trait Sound {
    fn sound(&self) -> bool;
}

impl Sound for f64 {
    fn sound(&self) -> bool {
        self.is_finite()
    }
}

impl Sound for Complex64 {
    fn sound(&self) -> bool {
        self.re.is_finite() && self.im.is_finite()
    }
}

#[track_caller]
fn sound<T: Sound + std::fmt::Debug>(list: impl IntoIterator<Item = T>) {
    for number in list {
        assert!(number.sound(), "{number:?}");
    }
}

fn impedance<T>(found: Result<Impedance<T>, SolveError>) -> Option<T> {
    found.ok().and_then(Impedance::known)
}

fn ask(point: &mut Point<'_>, drive: &Excitation, output: Output, port: [Node; 2], noise: &Noise) {
    let mut out = Vec::new();
    if let Ok(found) = point.transfers(output, &mut out) {
        assert!(found.known().is_some() || out.is_empty());
        sound(out.iter().copied());
        assert!(point.residual() <= 1e-11, "{}", point.residual());
    }
    sound(point.response(drive, output).ok().and_then(|found| found.known()));
    if let Some((h, slope)) = point.response_and_slope(drive, output).ok().and_then(|found| found.known()) {
        sound([h, slope]);
        assert!(point.residual() <= 1e-11, "{}", point.residual());
    }
    sound(impedance(point.impedance(port[0], port[1])));
    if let Some((z, slope)) = impedance(point.impedance_and_slope(port[0], port[1])) {
        sound([z, slope]);
    }
    if let Some(density) = point.noise_density(noise, output).ok().and_then(|found| found.known()) {
        assert!(density >= 0.0 && density.is_finite(), "{density}");
    }
    if let Some(shares) = point.noise_contributions(noise, output).ok().and_then(|found| found.known()) {
        assert!(shares.iter().all(|one| one.amount >= 0.0 && one.amount.is_finite()), "{shares:?}");
    }
    if let Some(found) =
        point.sweep_point(drive, output, noise, &mut out).ok().and_then(|found| found.known())
    {
        sound([found.response, found.slope]);
        sound([found.noise]);
        sound(out.iter().copied());
    }
    for of in [Response::Transfer(drive, output), Response::Impedance(port[0], port[1])] {
        if let Some(found) = point.bounded(of).ok().and_then(|found| found.known()) {
            sound([found.value]);
            assert!(found.error >= 0.0 && found.error.is_finite(), "{found:?}");
        }
        if let Some(found) = point.sensitivities(of).ok().and_then(|found| found.known()) {
            sound([found.response]);
            sound(found.list().iter().filter_map(|one| one.derivative));
            sound(found.list().iter().filter_map(|one| one.relative));
        }
    }
}

/// Builds a circuit from bytes and asks it everything. Panics where the crate breaks its word.
pub(crate) fn exercise(bytes: &[u8]) {
    let mut bytes = Bytes(bytes);
    let wild = build(&mut bytes);
    let circuit = &wild.circuit;
    let mut values = circuit.values();
    let probes: Vec<Branch> = wild.branches.iter().copied().filter(|_| bytes.byte() % 4 == 0).collect();
    let dc = bytes.flag();
    let layout = if dc { Layout::dc } else { Layout::ac };
    let mut drive: Vec<(Source, Complex64)> = Vec::new();
    for &source in circuit.sources() {
        if bytes.flag() {
            drive.push((source, Complex64::new(bytes.number(), bytes.number())));
        }
    }
    let nodes = [0; 4].map(|_| bytes.of(&wild.nodes).unwrap());
    let output = match bytes.of(&wild.branches) {
        Some(branch) if bytes.flag() => Output::Current(branch),
        _ => Output::Voltage(nodes[0], nodes[1]),
    };
    let port = [nodes[2], nodes[3]];
    let mut noise = Noise::thermal(circuit, Kelvin(bytes.number()));
    if let (Some(source), true) = (bytes.of(circuit.sources()), bytes.flag()) {
        noise.add(source, bytes.number());
    }
    if let Ok(layout) = layout(circuit, &values, &probes) {
        assert!(layout.fits(&values));
        let mut w = layout.workspace();
        for _ in 0..3 {
            if let Ok(mut point) = w.factor(&values, Hertz(bytes.number())) {
                ask(&mut point, &drive, output, port, &noise);
            }
            change(&wild, &mut values, &mut bytes);
        }
        let band = Band { low: Hertz(bytes.number()), high: Hertz(bytes.number()) };
        // Hundreds of frequencies: not for every circuit.
        if bytes.byte() % 8 == 1
            && let Some(total) =
                w.noise_total(&values, &noise, output, band, None).ok().and_then(|found| found.known())
        {
            let amounts = total.contributions.iter().map(|one| one.amount);
            assert!(amounts.chain([total.mean_square, total.error]).all(|x| x >= 0.0 && x.is_finite()));
        }
        if let Ok(degree) = w.degree(&values) {
            assert!(degree.margin.is_finite());
        }
        let start = Hertz(bytes.number());
        if let Some(peak) = w
            .peak_sensitivities(&values, Response::Transfer(&drive, output), &[start])
            .ok()
            .and_then(|x| x.known())
        {
            sound([peak.frequency.0, peak.height, peak.curvature]);
            sound(peak.list.iter().flat_map(|one| [one.frequency, one.height]).flatten());
            sound(peak.list.iter().flat_map(|one| [one.relative_frequency, one.relative_height]).flatten());
        }
    }
    let ports = [Port { plus: nodes[0], minus: nodes[1] }, Port { plus: nodes[2], minus: nodes[3] }];
    let make = if dc { Multiport::dc } else { Multiport::ac };
    if let Ok(mut multiport) = make(circuit, &values, &ports) {
        let f = Hertz(bytes.number());
        for matrix in [multiport.impedances(&values, f), multiport.admittances(&values, f)] {
            if let Ok(Matrix::Known(matrix)) = matrix {
                sound(matrix.entries().iter().copied());
            }
        }
    }
    sound(solver::poles(circuit, &values).unwrap_or_default());
    sound(solver::zeros(circuit, &values, &drive, output).unwrap_or_default());
    same_as_itself(circuit, &values, &drive, output, port, dc);
}

/// A network is the same as itself, and a null is the null that it was.
fn same_as_itself(
    circuit: &Circuit,
    values: &Values,
    drive: &Excitation,
    output: Output,
    port: [Node; 2],
    dc: bool,
) {
    for reading in [Reading::Exact, Reading::Alike] {
        let identity = if dc { Identity::new(reading).at_dc() } else { Identity::new(reading) };
        for response in [Response::Transfer(drive, output), Response::Impedance(port[0], port[1])] {
            if let Ok(finding) = identity.is_null(circuit, values, response) {
                assert!((0.0..1e-9).contains(&finding.error), "{finding:?}");
            }
            let subject = || Subject { circuit, values, response };
            if let Ok(found) = identity.compare(subject(), subject()) {
                let itself = matches!(found.relation, Relation::Same | Relation::Undetermined);
                assert!(itself, "{found:?}");
            }
        }
    }
}
