//! Where a cutter's underside touches a facet or an edge: maxima of the concave function surface height − underside height.

use trade::cutter::{Form, Solid};

/// Contacts this far (mm) outside a facet still count as inside: the maximum is flat there, so the height does not suffer.
const INSIDE: f64 = 1e-8;
/// Slopes below this are level: the whole flat of the cutter touches at once.
const LEVEL: f64 = 1e-8;
/// Edges shorter than this in plan are points, mm.
const POINT: f64 = 1e-7;
/// Windows in which an edge can be touched are wider by this, mm: far more than rounding.
const SLACK: f64 = 1e-6;

/// Underside of a cutter above its lowest point: a flat, then a corner arc, then (pointed forms) a straight flank.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct Underside {
    /// Radius of the flat in the middle.
    pub(crate) flat: f64,
    /// Radius of the corner arc.
    pub(crate) corner: f64,
    /// Outer radius.
    pub(crate) radius: f64,
    /// Rise per radius of the flank; infinite where the arc runs up to vertical.
    flank: f64,
    /// Distance from the flat at which the flank begins.
    arc_reach: f64,
    /// Rise at that distance.
    arc_rise: f64,
}

impl Underside {
    /// Of a cutter made thicker by `allowance` everywhere: a ball rolled along its outline.
    pub(crate) fn new(cutter: &Solid, allowance: f64) -> Self {
        let outer = cutter.radius() + allowance;
        let (flat, corner, half_angle) = match cutter.form {
            Form::Flat => (cutter.radius(), 0.0, 0.0),
            Form::Ball => (0.0, cutter.radius(), 0.0),
            Form::Bull { corner_radius } => ((cutter.radius() - corner_radius).max(0.0), corner_radius, 0.0),
            Form::Cone { half_angle_deg, tip_diameter } => (tip_diameter / 2.0, 0.0, half_angle_deg.to_radians()),
            Form::TaperedBall { tip_radius, half_angle_deg } => (0.0, tip_radius, half_angle_deg.to_radians()),
        };
        let corner = corner + allowance;
        let flank = if half_angle > 0.0 { 1.0 / half_angle.tan() } else { f64::INFINITY };
        Self {
            flat,
            corner,
            radius: outer,
            flank,
            arc_reach: corner * half_angle.cos(),
            arc_rise: corner * (1.0 - half_angle.sin()),
        }
    }

    /// Of a square-ended cutter.
    pub(crate) fn flat(radius: f64) -> Self {
        Self { flat: radius, corner: 0.0, radius, flank: f64::INFINITY, arc_reach: 0.0, arc_rise: 0.0 }
    }

    /// Height above the lowest point at distance `rho` from the axis.
    pub(crate) fn rise(&self, rho: f64) -> f64 {
        let u = rho - self.flat;
        if u <= 0.0 {
            0.0
        } else if u <= self.arc_reach || self.flank.is_infinite() {
            self.corner - (self.corner * self.corner - u * u).max(0.0).sqrt()
        } else {
            self.arc_rise + (u - self.arc_reach) * self.flank
        }
    }

    /// Derivative of [`Underside::rise`].
    pub(crate) fn slope(&self, rho: f64) -> f64 {
        let u = rho - self.flat;
        if u <= 0.0 {
            0.0
        } else if u < self.arc_reach {
            u / (self.corner * self.corner - u * u).max(1e-300).sqrt()
        } else {
            self.flank
        }
    }

    /// Whether a plane of slope `g` is touched within the flat and the corner arc (else along the flank or at the rim).
    pub(crate) fn bears(&self, g: f64) -> bool {
        g < self.flank * (1.0 - 1e-9)
    }

    /// Of a pointed form: the steepness of its flank, and the height of the flank run on down to the axis.
    pub(crate) fn flank_line(&self) -> Option<[f64; 2]> {
        let start = self.flat + self.arc_reach;
        self.flank.is_finite().then_some([self.flank, self.arc_rise - self.flank * start])
    }

    /// A paraboloid that is nowhere above the underside: how much it rises per distance squared, and its height on the axis.
    /// It touches where a plane of slope `g` would, if it can.
    ///
    /// Over the square of the distance a flat and a corner arc are convex, so that a tangent lies below them; a flank is
    /// concave, so that its ends decide.
    pub(crate) fn paraboloid(&self, g: f64) -> (f64, f64) {
        let rho = self.plane_contact(g);
        let rim = self.rise(self.radius);
        let curve = if rho > 0.0 {
            0.5 * g / rho
        } else if self.flat > 0.0 {
            0.0
        } else if self.corner > 0.0 {
            0.5 / self.corner
        } else {
            rim / (self.radius * self.radius)
        };
        let curve = curve.max(1e-9);
        let above = |rho: f64| self.rise(rho) - curve * rho * rho;
        let lift = [0.0, rho, self.flat, self.flat + self.arc_reach, self.radius].map(above);
        (curve, lift.into_iter().fold(f64::INFINITY, f64::min))
    }

    /// Distance from the axis at which a plane of slope `g` is touched.
    fn plane_contact(&self, g: f64) -> f64 {
        if g < LEVEL {
            0.0
        } else if g >= self.flank {
            self.radius
        } else {
            self.flat + self.corner * g / (1.0 + g * g).sqrt()
        }
    }

    /// Distance from the axis at which a plane of slope `g` > 0 is touched, per slope, where it bears one.
    fn touch_per_slope(&self, g: f64) -> f64 {
        self.flat / g.max(LEVEL) + self.corner / g.hypot(1.0)
    }

    /// Distance, along a line of slope `m` > 0 passing the axis at distance `b`, from the foot of the perpendicular to
    /// the touching point. `reach` is where the line leaves the cutter.
    fn line_contact(&self, m: f64, b: f64, reach: f64) -> f64 {
        let start = self.flat + self.arc_reach;
        if self.flank.is_infinite() || b < start {
            let t = self.line_contact_arc(m, b, reach);
            if self.flank.is_infinite() || b * b + t * t <= start * start {
                return t;
            }
        }
        // Along the flank the underside rises along the line by flank · t / ρ.
        let least = (start * start - b * b).max(0.0).sqrt();
        if m >= self.flank { reach } else { (m * b / (self.flank * self.flank - m * m).sqrt()).max(least).min(reach) }
    }

    /// The same on the flat and the corner arc, the arc thought to run on up to vertical.
    fn line_contact_arc(&self, m: f64, b: f64, reach: f64) -> f64 {
        if self.corner == 0.0 {
            return (self.flat * self.flat - b * b).max(0.0).sqrt().min(reach);
        }
        if self.flat == 0.0 {
            return m * (self.corner * self.corner - b * b).max(0.0).sqrt() / (1.0 + m * m).sqrt();
        }
        self.line_contact_torus(m, b)
    }

    /// Corner arc at a distance from the axis: bracketed Newton on the arc's angle φ, `tan φ · t/ρ = m`.
    fn line_contact_torus(&self, m: f64, b: f64) -> f64 {
        let (a, r) = (self.flat, self.corner);
        let mut lo = if b > a { ((b - a) / r).min(1.0).asin() } else { 0.0 };
        let mut hi = std::f64::consts::FRAC_PI_2;
        let mut phi = m.atan().clamp(lo, hi);
        let along = |rho: f64| (rho * rho - b * b).max(0.0).sqrt();
        for _ in 0..60 {
            let (sin, cos) = phi.sin_cos();
            let rho = a + r * sin;
            let q = along(rho) / rho;
            let f = sin * q - m * cos;
            if f > 0.0 {
                hi = phi;
            } else {
                lo = phi;
            }
            let dq = if q > 1e-9 { b * b * r * cos / (rho * rho * rho * q) } else { 0.0 };
            let df = cos * q + sin * dq + m * sin;
            let mut next = phi - f / df;
            if !(next > lo && next < hi) {
                next = 0.5 * (lo + hi);
            }
            if (next - phi).abs() < 1e-11 {
                phi = next;
                break;
            }
            phi = next;
        }
        along(a + r * phi.sin())
    }
}

/// A facet made ready for one cutter: where it would be touched, and the height that gives.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Facet {
    /// From the axis to the touching point.
    touch: [f64; 2],
    /// Gradient of the plane.
    gradient: [f64; 2],
    /// Height of the plane at the origin less the rise of the underside at the touching point.
    height: f64,
}

/// The sides of a facet, three half-planes (inside ≥ 0, mm): apart from it, for few facets are asked for theirs.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sides([[f64; 3]; 3]);

impl Facet {
    /// `None` for vertical and empty facets: their edges stand for them.
    pub(crate) fn new(t: [[f64; 3]; 3], under: &Underside) -> Option<(Self, Sides)> {
        let (u, v) = (sub(t[1], t[0]), sub(t[2], t[0]));
        let n = [u[1] * v[2] - u[2] * v[1], u[2] * v[0] - u[0] * v[2], u[0] * v[1] - u[1] * v[0]];
        let length = (n[0] * n[0] + n[1] * n[1] + n[2] * n[2]).sqrt();
        if n[2].abs() <= 1e-7 * length || length == 0.0 {
            return None;
        }
        let gradient = [-n[0] / n[2], -n[1] / n[2]];
        let g = gradient[0].hypot(gradient[1]);
        let rho = under.plane_contact(g);
        let touch = if rho > 0.0 { [gradient[0] / g * rho, gradient[1] / g * rho] } else { [0.0; 2] };
        let height = t[0][2] - gradient[0] * t[0][0] - gradient[1] * t[0][1] - under.rise(rho);
        let turn = n[2].signum();
        let side = |p: [f64; 3], q: [f64; 3]| {
            let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
            let k = turn / dx.hypot(dy).max(1e-300);
            [-dy * k, dx * k, (dy * p[0] - dx * p[1]) * k]
        };
        Some((Self { touch, gradient, height }, Sides([side(t[0], t[1]), side(t[1], t[2]), side(t[2], t[0])])))
    }

    /// Whether a flat would touch it as a whole.
    pub(crate) fn is_level(&self) -> bool {
        self.gradient[0].hypot(self.gradient[1]) < LEVEL
    }

    /// Height of the lowest point of the cutter when it touches the facet's plane.
    #[inline]
    pub(crate) fn plane_height(&self, x: f64, y: f64) -> f64 {
        self.gradient[0] * (x + self.touch[0]) + self.gradient[1] * (y + self.touch[1]) + self.height
    }

    /// Whether it touches the plane within the facet's sides.
    #[inline]
    pub(crate) fn is_within(&self, sides: &Sides, x: f64, y: f64) -> bool {
        let (qx, qy) = (x + self.touch[0], y + self.touch[1]);
        sides.0.iter().all(|s| s[0] * qx + s[1] * qy + s[2] >= -INSIDE)
    }
}

/// An edge (with its two ends), or a point, made ready.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Edge {
    /// One end.
    from: [f64; 3],
    /// Direction in plan.
    along: [f64; 2],
    /// Length in plan; 0 for a point.
    length: f64,
    /// Rise per length.
    slope: f64,
    /// Where the axis may stand for the edge to be what is touched, from its first end: along it, and to its left, mm.
    window: [[f64; 2]; 2],
}

impl Edge {
    /// From its ends.
    pub(crate) fn new(p: [f64; 3], q: [f64; 3]) -> Self {
        let (dx, dy) = (q[0] - p[0], q[1] - p[1]);
        let length = dx.hypot(dy);
        let window = [[f64::NEG_INFINITY, f64::INFINITY]; 2];
        if length < POINT {
            let from = if p[2] >= q[2] { p } else { q };
            return Self { from, along: [1.0, 0.0], length: 0.0, slope: 0.0, window };
        }
        Self { from: p, along: [dx / length, dy / length], length, slope: (q[2] - p[2]) / length, window }
    }

    /// Of a ridge between two facets that face up, of these gradients, touched by a smooth underside between its ends:
    /// there the slope of the underside equals the edge's along it, and lies between the facets' across it.
    pub(crate) fn between(self, facets: [[f64; 2]; 2], under: &Underside) -> Self {
        let m = self.slope;
        let across = facets.map(|g| g[1] * self.along[0] - g[0] * self.along[1]);
        let (low, high) = (across[0].min(across[1]), across[0].max(across[1]));
        let near = if low > 0.0 { low } else { (-high).max(0.0) };
        let far = high.max(-low);
        // The touching point from the axis: along the edge it is the farther the gentler the slope across.
        let (most, least) = (m * under.touch_per_slope(m.hypot(near)), m * under.touch_per_slope(m.hypot(far)));
        let ends = [low, high].map(|g| g * under.touch_per_slope(m.hypot(g)));
        let mut reach = [[most.min(least), most.max(least)], ends];
        if m.hypot(near) < LEVEL {
            // Level: the whole flat touches at once.
            reach = reach.map(|[lo, hi]| [lo.min(-under.flat), hi.max(under.flat)]);
        }
        let [[back, ahead], [right, left]] = reach;
        let window = [[-ahead - SLACK, self.length - back + SLACK], [-left - SLACK, -right + SLACK]];
        Self { window, ..self }
    }

    /// The corner of facets that face up all around it, with gradients within `spread` of `mean`, touched by a smooth
    /// underside: there its slope lies among theirs (in their convex hull).
    pub(crate) fn corner(at: [f64; 3], mean: [f64; 2], spread: f64, under: &Underside) -> Self {
        let steepness = mean[0].hypot(mean[1]);
        // Touching points differ no more than the slopes do, times the greatest derivative among them.
        let gentlest = (steepness - spread).max(0.0);
        let turn = if gentlest > LEVEL { (spread / gentlest).min(2.0) } else { 2.0 };
        let radius = under.corner * spread / gentlest.hypot(1.0) + under.flat * turn + SLACK;
        let touch = mean.map(|g| if steepness > LEVEL { g * under.touch_per_slope(steepness) } else { 0.0 });
        Self { window: touch.map(|t| [-t - radius, -t + radius]), ..Self::new(at, at) }
    }

    /// Without the window in which it is what is touched.
    pub(crate) fn anywhere(&self) -> Self {
        Self { window: [[f64::NEG_INFINITY, f64::INFINITY]; 2], ..*self }
    }

    /// Height of the lowest point of the cutter when it touches the edge.
    ///
    /// `None` also where it cannot be above `best`.
    #[inline]
    pub(crate) fn contact(&self, x: f64, y: f64, under: &Underside, best: f64) -> Option<f64> {
        let (vx, vy) = (x - self.from[0], y - self.from[1]);
        let foot = vx * self.along[0] + vy * self.along[1];
        let left = vy * self.along[0] - vx * self.along[1];
        let [[back, ahead], [right, far_left]] = self.window;
        let b = left.abs();
        if left < right || left > far_left || foot < back || foot > ahead || b > under.radius {
            return None;
        }
        let reach = (under.radius * under.radius - b * b).sqrt();
        let (lo, hi) = ((foot - reach).max(0.0), (foot + reach).min(self.length));
        if lo > hi {
            return None;
        }
        if self.cannot_reach(best, under, foot, b, (lo, hi)) {
            return None;
        }
        let m = self.slope.abs();
        let t = if m < LEVEL { foot } else { foot + self.slope.signum() * under.line_contact(m, b, reach) };
        let t = t.clamp(lo, hi);
        Some(self.from[2] + self.slope * t - under.rise((b * b + (t - foot) * (t - foot)).sqrt()))
    }

    /// Whether the tangent in the middle stays below `best` all along: the height is concave.
    #[inline]
    fn cannot_reach(&self, best: f64, under: &Underside, foot: f64, b: f64, (lo, hi): (f64, f64)) -> bool {
        let t = 0.5 * (lo + hi);
        let d = t - foot;
        let rho = (b * b + d * d).sqrt();
        let value = self.from[2] + self.slope * t - under.rise(rho);
        let rate = self.slope - if rho > 0.0 { under.slope(rho) * d / rho } else { 0.0 };
        value + rate.abs() * 0.5 * (hi - lo) <= best
    }

    /// Its ends.
    pub(crate) fn ends(&self) -> [[f64; 3]; 2] {
        let end = |t: f64| {
            [self.from[0] + self.along[0] * t, self.from[1] + self.along[1] * t, self.from[2] + self.slope * t]
        };
        [end(0.0), end(self.length)]
    }
}

/// p − q.
fn sub(p: [f64; 3], q: [f64; 3]) -> [f64; 3] {
    [p[0] - q[0], p[1] - q[1], p[2] - q[2]]
}
