/* The plant's step in C: what a C compiler makes of the equations that the compiled kernel solves.
 *
 * The header is made from plant.packed.CASE_TYPE (`Case`) and plant.rows (names of rows); tables and tracks come packed as
 * the kernel takes them. `twin_full` is all that a plant step does but for noting truth. `twin_core` is the core alone: body
 * and wheels in seven degrees of freedom, motion along and across, springs, bars, stops, table dampers, valves, tyres that
 * can't pull, and what slopes and banks do. It holds where nobody steers, drives or brakes, tyres neither grip nor resist
 * rolling, and damper force doesn't fade.
 */
#include <math.h>
#include <string.h>
#include "case.h"

#define GRAVITY 9.80665

typedef struct { long at; double share, on; } Place;
typedef struct { double speed, slope; } Settled;
typedef struct { double load, strut, ground, slope, along, side, loss; } Corner;
typedef struct { const Case *c; const double *tables, *tracks; long points; } World;

static inline double least(double a, double b) { return b < a ? b : a; }
static inline double most(double a, double b) { return b > a ? b : a; }
static inline double within(double x, double low, double high) { return least(most(x, low), high); }

static inline Place place(const Case *c, double distance)
{
    double at = distance * c->per_track_step, last = (double)(c->track_count - 1);
    if (at <= 0.0) return (Place){c->track_start, 0.0, 0.0};
    if (at >= last) return (Place){c->track_start + c->track_count - 2, 1.0, 0.0};
    long index = (long)at;
    return (Place){c->track_start + index, at - (double)index, 1.0};
}

static inline double wish(const World *w, int row, Place p)
{
    const double *t = w->tracks + row * w->points + p.at;
    return t[0] + p.share * (t[1] - t[0]);
}

/* The forces of a map at a duty: `f` at the first speed, `share` on to the next column. */
typedef struct { const double *speeds, *f; long rows, columns; double share; } Line;

static inline Line at_duty(const double *t, double duty)
{
    long rows = (long)t[0], columns = (long)t[1], column = 0;
    const double *speeds = t + 4 + (long)t[3], *duties = speeds + 2 * rows;
    while (column < columns - 2 && duty >= duties[column + 1]) column++;
    double share = (duty - duties[column]) * duties[columns + column];
    return (Line){speeds, duties + 2 * columns + column, rows, columns, share};
}

static inline double on(const Line *line, long row)
{
    const double *f = line->f + row * line->columns;
    return f[0] + line->share * (f[1] - f[0]);
}

/* Force at a speed: cells of equal width say near which row to look. */
static inline double map_force(const double *t, double speed, double duty)
{
    Line line = at_duty(t, duty);
    double cell = speed * t[2];
    long row = cell < t[3] ? (long)t[4 + (long)cell] : line.rows - 2;
    while (row < line.rows - 2 && speed >= line.speeds[row + 1]) row++;
    double low = on(&line, row), high = on(&line, row + 1);
    return low + (speed - line.speeds[row]) * line.speeds[line.rows + row] * (high - low);
}

/* Speed at a force, and how steep the force is there. */
static inline Settled map_speed(const double *t, double force, double duty)
{
    Line line = at_duty(t, duty);
    long row = 0;
    double low = on(&line, 0), high = on(&line, 1);
    while (row < line.rows - 2 && force > high) {
        row++;
        low = high;
        high = on(&line, row + 1);
    }
    double slope = most((high - low) * line.speeds[line.rows + row], 1.0);
    return (Settled){most(line.speeds[row] + (force - low) / slope, 0.0), slope};
}

static inline double zone(const double *tables, long start, double travel)
{
    if (start < 0) return 1.0;
    const double *x = tables + start + 1;
    long points = (long)x[-1], i = 0;
    if (travel <= x[0]) return x[points];
    while (i < points - 2 && travel >= x[i + 1]) i++;
    double share = least((travel - x[i]) / (x[i + 1] - x[i]), 1.0);
    return x[points + i] + share * (x[points + i + 1] - x[points + i]);
}

/* What a side's map is multiplied with. */
static inline double scale_of(const World *w, const double *held, int k, double travel, int rebound)
{
    const Case *c = w->c;
    double left = most(1.0 - c->oil_fade[k] * (held[OIL + k] - c->oil_reference[k]), 0.2);
    if (rebound)
        return left * c->rebound_scale[k] * (1.0 + c->rebound_crosstalk[k] * held[REACHED + k]) * zone(w->tables, c->rebound_zone[k], travel);
    return left * c->compression_scale[k] * (1.0 + c->compression_crosstalk[k] * held[REACHED + 4 + k])
        * zone(w->tables, c->compression_zone[k], travel);
}

static inline double damper(const World *w, const double *held, int k, double travel, double speed)
{
    const Case *c = w->c;
    if (speed >= 0.0) return scale_of(w, held, k, travel, 0) * map_force(w->tables + c->compression_map[k], speed, held[REACHED + k]);
    return -scale_of(w, held, k, travel, 1) * map_force(w->tables + c->rebound_map[k], -speed, held[REACHED + 4 + k]);
}

/* Speed at which the damper gives a force: what a spring in series with it needs. */
static inline Settled oil_speed(const World *w, const double *held, int k, double travel, double force)
{
    const Case *c = w->c;
    int rebound = force < 0.0;
    double scale = most(scale_of(w, held, k, travel, rebound), 1e-3);
    long map = rebound ? c->rebound_map[k] : c->compression_map[k];
    Settled found = map_speed(w->tables + map, fabs(force) / scale, held[REACHED + (rebound ? 4 : 0) + k]);
    return (Settled){rebound ? -found.speed : found.speed, scale * found.slope};
}

static inline double stops(const Case *c, int k, double travel, double speed)
{
    double crush = travel - c->bump_contact[k];
    if (crush <= 0.0 && travel >= 0.0) return 0.0;
    double turning = speed / sqrt(speed * speed + 0.01);
    if (travel < 0.0) return c->droop_rate[k] * travel * (1.0 - c->droop_loss[k] * turning);
    double bulged = crush / c->bump_doubling[k];
    double rubber = c->bump_rate[k] * crush * (1.0 + bulged * bulged) * (1.0 + c->bump_loss[k] * turning);
    return rubber + c->metal_rate[k] * most(travel - c->stroke[k], 0.0);
}

static inline double tyre(const Case *c, int k, double deflection, double speed)
{
    if (deflection <= 0.0) return 0.0;
    double rim = c->rim_rate[k] * most(deflection - c->rim_contact[k], 0.0);
    return most(c->tyre_rate[k] * deflection + rim + c->tyre_damping[k] * speed, 0.0);
}

/* One corner from ground to body; gives its wheel travel. */
static inline double corner(const World *w, const double *s, const double *held, int k, double *rate, Corner *q)
{
    const Case *c = w->c;
    double x = s[HUB + k] - (s[HEAVE] + c->side[k] * s[ROLL] - c->arm[k] * s[PITCH]) + c->extended_drop[k];
    double v = s[HUB_SPEED + k] - (s[HEAVE_SPEED] + c->side[k] * s[ROLL_RATE] - c->arm[k] * s[PITCH_RATE]);
    double rise = c->motion_ratio_rise[k], bend = c->motion_ratio_bend[k];
    double ratio = c->extended_ratio[k] + x * (rise + 0.5 * bend * x);
    double travel = x * (c->extended_ratio[k] + x * (0.5 * rise + x * bend / 6.0)), speed = ratio * v;
    double through = speed, force;
    rate[SERIES_FORCE + k] = 0.0;
    if (c->series_rate[k] > 0.0) {
        force = s[SERIES_FORCE + k];
        Settled oil = oil_speed(w, held, k, travel, force);
        through = oil.speed;
        rate[SERIES_FORCE + k] = (speed - through) * least(c->series_rate[k], 1.5 * most(oil.slope, 1.0) / c->step);
    } else {
        force = damper(w, held, k, travel, speed);
    }
    double friction = c->friction[k] * speed / sqrt(speed * speed + c->friction_speed * c->friction_speed);
    double pressed = most(travel - c->spring_contact[k], 0.0);
    double spring = pressed * (c->spring_rate[k] + 0.5 * c->spring_progression[k] * pressed)
        + c->second_rate[k] * most(travel - c->second_contact[k], 0.0) + c->gas_force[k] + c->gas_rate[k] * travel;
    q->loss = force * through + friction * speed;
    q->strut = ratio * (spring + stops(c, k, travel, speed) + force + friction);
    q->load = tyre(c, k, c->tyre_radius + q->ground - s[HUB + k], q->slope * s[SPEED] - s[HUB_SPEED + k]);
    return x;
}

static inline double drive_at(const Case *c, double throttle, double wheel)
{
    if (throttle <= 0.0) return 0.0;
    double full = least(c->drive_force, c->drive_power / most(wheel, 1.0));
    return throttle * full * within((c->top_wheel_speed - wheel) * 0.5, 0.0, 1.0);
}

static inline void grip(const Case *c, const double *s, int k, Corner *q)
{
    double over = q->load * c->per_static_wheel_load[k] - 1.0;
    double limit = c->grip * most(1.0 - c->grip_fade * over, 0.5) * q->load;
    double stretch = c->slip_growth == 0.0 ? 1.0 : 1.0 / most(1.0 + c->slip_growth * over, 0.3);
    double along = s[SLIP_ALONG + k] * stretch * c->per_drive_slip_scale, across = s[SLIP_ACROSS + k] * stretch * c->per_slip_scale;
    double share = limit / sqrt(1.0 + along * along + across * across);
    q->along = share * along;
    q->side = -share * across;
}

static inline double wheels(const Case *c, const double *s, const double *held, double *rate, Corner *q)
{
    double spun = 0.0;
    for (int axle = 0; axle < 2; axle++) {
        int first = 2 * axle;
        double steered = axle ? 0.0 : held[STEER];
        double drive = 0.5 * drive_at(c, held[THROTTLE], 0.5 * (s[WHEEL + first] + s[WHEEL + first + 1])) * (axle ? 1.0 - c->drive_front : c->drive_front);
        double brake = 0.5 * held[BRAKE] * c->brake_force * (axle ? 1.0 - c->brake_front : c->brake_front);
        double across = s[SIDE_SPEED] + c->arm[first] * s[YAW_RATE] - steered * s[SPEED];
        for (int k = first; k < first + 2; k++) {
            double speed = s[SPEED] - c->side[k] * s[YAW_RATE], turning = s[WHEEL + k], reach = sqrt(speed * speed + 1.0);
            grip(c, s, k, &q[k]);
            double rolling = turning / sqrt(turning * turning + 0.09);
            double spin = drive - rolling * (brake + c->rolling_resistance * q[k].load) - q[k].along;
            rate[WHEEL + k] = spin * c->per_spin_mass[k];
            rate[SLIP_ALONG + k] = (turning - speed - reach * s[SLIP_ALONG + k]) * c->per_relaxation;
            rate[SLIP_ACROSS + k] = (across - reach * s[SLIP_ACROSS + k]) * c->per_relaxation;
            spun += spin;
        }
    }
    return spun;
}

static inline void motion(const World *w, const double *s, const double *held, double *rate, Corner *q, int full)
{
    const Case *c = w->c;
    double bank[2], through[2], sideways[2], yaw = 0.0, ahead = 0.0, left = 0.0, spun = 0.0;
    for (int axle = 0; axle < 2; axle++) {
        int l = 2 * axle, r = l + 1;
        Place p = place(c, s[DISTANCE] - axle * c->wheelbase);
        for (int side = 0; side < 2; side++) {
            const double *t = w->tracks + (GROUND_LEFT + side) * w->points + p.at;
            q[l + side].ground = t[0] + p.share * (t[1] - t[0]);
            q[l + side].slope = p.on * (t[1] - t[0]) * c->per_track_step;
        }
        double bar = corner(w, s, held, l, rate, &q[l]);
        bar = c->bar_rate[l] * (bar - corner(w, s, held, r, rate, &q[r]));
        q[l].strut += bar;
        q[r].strut -= bar;
        bank[axle] = (q[l].ground - q[r].ground) * c->per_track[l];
    }
    if (full) spun = wheels(c, s, held, rate, q);
    for (int axle = 0; axle < 2; axle++) {
        int l = 2 * axle, r = l + 1;
        double steered = axle ? 0.0 : held[STEER];
        for (int k = l; k <= r; k++) {
            double along = q[k].along - q[k].load * q[k].slope - steered * q[k].side;
            ahead += along;
            yaw -= c->side[k] * along;
        }
        through[axle] = q[l].side + q[r].side + steered * (q[l].along + q[r].along);
        double level = through[axle] - (q[l].load + q[r].load) * bank[axle];
        left += level;
        yaw += c->arm[l] * level;
    }
    double turn = (yaw - c->mass_ahead * left + c->mass_left * ahead) * c->per_yaw_inertia, yawing = s[YAW_RATE] * s[YAW_RATE];
    ahead = ahead * c->per_total_mass + c->mass_ahead * yawing + c->mass_left * turn;
    left = left * c->per_total_mass - c->mass_ahead * turn + c->mass_left * yawing;
    rate[DISTANCE] = s[SPEED];
    rate[SPEED] = ahead + s[YAW_RATE] * s[SIDE_SPEED];
    rate[SIDE_SPEED] = left - s[YAW_RATE] * s[SPEED];
    rate[YAW_RATE] = turn;
    for (int k = 0; k < MOVING; k++) rate[k] = s[k + MOVING];

    double pressed = (q[0].load + q[1].load + q[2].load + q[3].load) * c->per_total_mass;
    double alongs = (q[0].along + q[1].along + q[2].along + q[3].along) * c->per_total_mass;
    double climb = 0.5 * (q[0].ground + q[1].ground - q[2].ground - q[3].ground) * c->per_wheelbase;
    double heave = 0.0, roll = 0.0, pitch = -c->pitch_lever * ahead - c->tyre_radius * spun, lifted[4];
    pitch -= (c->cg_height - c->tyre_radius) * climb * c->sprung_mass * pressed;
    for (int k = 0; k < 4; k++) {
        q[k].strut += q[k].along * (q[k].along < 0.0 ? c->lift_braking[k] : c->lift_driving[k]);
        lifted[k] = climb * (q[k].along - c->unsprung_mass[k] * alongs);
        heave += q[k].strut + lifted[k];
        roll += c->side[k] * q[k].strut;
        pitch -= c->arm[k] * (q[k].strut + lifted[k]) + c->tyre_radius * q[k].load * q[k].slope;
    }
    for (int axle = 0; axle < 2; axle++) {
        int l = 2 * axle, r = l + 1;
        double hubs = (s[HUB + l] - s[HUB + r]) * c->per_track[l];
        sideways[axle] = left + c->arm[l] * turn + pressed * bank[axle];
        through[axle] -= (c->unsprung_mass[l] + c->unsprung_mass[r]) * sideways[axle];
        heave += through[axle] * bank[axle];
        pitch -= c->arm[l] * through[axle] * bank[axle];
        roll += (c->cg_height - c->roll_centre[l]) * (through[axle] + (q[l].strut + q[r].strut) * (s[ROLL] - hubs));
    }
    rate[HEAVE_SPEED] = heave * c->per_sprung_mass - GRAVITY;
    rate[ROLL_RATE] = roll * c->per_roll_inertia;
    rate[PITCH_RATE] = pitch * c->per_pitch_inertia;

    double swung = c->swing * rate[ROLL_RATE];
    rate[SIDE_SPEED] += swung;
    for (int axle = 0; axle < 2; axle++) {
        int l = 2 * axle, r = l + 1;
        double unsprung = c->unsprung_mass[l] + c->unsprung_mass[r];
        double aside = sideways[axle] + swung, carrying = through[axle] - unsprung * swung;
        double lift = (carrying * c->roll_centre[l] + unsprung * aside * c->tyre_radius) * c->per_track[l];
        for (int k = l; k <= r; k++) {
            double force = q[k].load - q[k].strut + (k == l ? lift : -lift) + q[k].along * q[k].slope - lifted[k];
            rate[HUB_SPEED + k] = force * c->per_unsprung_mass[k] + aside * bank[axle] - GRAVITY;
        }
    }
}

static inline double ohms(const Case *c, double coil) { return c->coil_resistance * (1.0 + c->coil_growth * (coil - 20.0)); }

static inline double wanted_magnet(const Case *c, int valve, double command, double coil)
{
    double rest = c->unpowered[valve], duty = command, ohm = ohms(c, coil);
    if (isnan(command)) return rest;
    if (c->valve_resolution > 0.0) duty = c->valve_resolution * (double)(long)(duty / c->valve_resolution + 0.5);
    double share = fabs(duty - rest) / most(rest, 1.0 - rest);
    double room = least(c->supply / (ohm * c->full_current * most(share, 1e-9)), 1.0);
    double sagged = c->supply / c->supply_reference * c->coil_resistance / ohm;
    return within(rest + (c->current_held * room + (1.0 - c->current_held) * sagged) * (duty - rest), 0.0, 1.0);
}

static inline double followed(const Case *c, double now, double wanted)
{
    return wanted + (now - wanted) * (wanted > now ? c->rise_left : c->fall_left);
}

static inline double spool(const Case *c, double reached, double magnet)
{
    double dead = c->valve_deadband, play = c->valve_hysteresis;
    double wanted = dead > 0.0 ? most(magnet - dead, 0.0) / (1.0 - dead) : magnet;
    if (play <= 0.0) return wanted;
    double middle = within(0.5 * play + (1.0 - play) * reached, wanted - 0.5 * play, wanted + 0.5 * play);
    return within((middle - 0.5 * play) / (1.0 - play), 0.0, 1.0);
}

static inline void valves(const Case *c, double *held, const double *wanted, double *pending, long number, double *reached)
{
    long slots = c->delay_steps + 1, enters = number % slots, leaves = (number + 1) % slots;
    for (int k = 0; k < 8; k++) {
        pending[8 * enters + k] = wanted[k];
        double arrived = pending[8 * leaves + k], half = followed(c, held[MAGNET + k], arrived);
        held[MAGNET + k] = followed(c, half, arrived);
        reached[k] = spool(c, held[REACHED + k], half);
        reached[8 + k] = spool(c, reached[k], held[MAGNET + k]);
    }
}

static inline double moved(double now, double wanted, double reach) { return now + within(wanted - now, -reach, reach); }

static inline void driver(const World *w, const double *s, double *held)
{
    const Case *c = w->c;
    double speed = s[SPEED];
    Place here = place(c, s[DISTANCE]), ahead = place(c, s[DISTANCE] + c->preview * speed);
    double asked = c->speed_gain * (wish(w, WANTED_SPEED, here) - speed) + c->rolling_resistance * GRAVITY;
    asked *= 1.0 - wish(w, SPEED_FREE, here);
    double pull = c->drive_force > 0.0 ? asked * c->total_mass / c->drive_force : 0.0;
    double throttle = c->drive_force > 0.0 ? least(most(most(pull, wish(w, THROTTLE_FLOOR, here)), 0.0), 1.0) : 0.0;
    double brake = c->brake_force > 0.0 ? least(most(-asked * c->total_mass / c->brake_force, 0.0) + wish(w, EXTRA_BRAKE, here), 1.0) : 0.0;
    double curvature = wish(w, CURVATURE, ahead);
    double feed = curvature * (c->wheelbase + c->steer_feed * speed * speed);
    double angle = within(feed + c->yaw_gain * (curvature * speed - s[YAW_RATE]), -c->steer_limit, c->steer_limit);
    double steer = (1.0 - wish(w, STEER_HELD, here)) * angle + wish(w, EXTRA_STEER, here);
    held[THROTTLE] = moved(held[THROTTLE], throttle, c->pedal_rate * c->step);
    held[BRAKE] = moved(held[BRAKE], brake, c->pedal_rate * c->step);
    held[STEER] = moved(held[STEER], within(steer, -c->steer_limit, c->steer_limit), c->steer_rate * c->step);
}

static inline void warm_oil(const Case *c, const Corner *q, double speed, double *held)
{
    for (int k = 0; k < 4; k++) {
        double lost = (c->oil_cooling[k] + c->oil_draught[k] * fabs(speed)) * (held[OIL + k] - c->air_temperature);
        held[OIL + k] += c->step * (q[k].loss - lost) / c->oil_capacity[k];
    }
}

static inline void warm_coils(const Case *c, const double *command, double seconds, double *held)
{
    for (int k = 0; k < 8; k++) {
        double coil = held[COIL + k], rest = c->unpowered[k];
        double current = isnan(command[k]) ? 0.0 : fabs(held[MAGNET + k] - rest) / most(rest, 1.0 - rest) * c->full_current;
        double given = c->coil_cooling * (coil - held[OIL + k % 4]);
        held[COIL + k] += seconds * (current * current * ohms(c, coil) - given) / c->coil_capacity;
        held[OIL + k % 4] += seconds * given / c->oil_capacity[k % 4];
    }
}

static inline int run_away(const double *s)
{
    double total = 0.0, fastest = 0.0;
    for (int k = 0; k < STATE_SIZE; k++) total += s[k];
    for (int k = 0; k < 4; k++) fastest = most(fastest, fabs(s[HUB_SPEED + k]));
    return !isfinite(total) || fastest > 300.0;
}

/* One classic Runge-Kutta step; `rate` holds the rates at its start and then at its end. */
static inline void step(const World *w, double *s, double *rate, double *held, const double *reached, Corner *q, int full)
{
    double h = w->c->step, total[STATE_SIZE], trial[STATE_SIZE];
    static const double reach[3] = {0.5, 0.5, 1.0};
    memcpy(total, rate, sizeof total);
    memcpy(held + REACHED, reached, 8 * sizeof *held);
    for (int stage = 0; stage < 3; stage++) {
        for (int k = 0; k < STATE_SIZE; k++) trial[k] = s[k] + reach[stage] * h * rate[k];
        if (stage == 2) memcpy(held + REACHED, reached + 8, 8 * sizeof *held);
        motion(w, trial, held, rate, q, full);
        for (int k = 0; k < STATE_SIZE; k++) total[k] += (stage == 2 ? 1.0 : 2.0) * rate[k];
    }
    for (int k = 0; k < STATE_SIZE; k++) s[k] += h / 6.0 * total[k];
    if (full) driver(w, s, held);
    motion(w, s, held, rate, q, full);
    if (full) warm_oil(w->c, q, s[SPEED], held);
}

/* `row` as the kernel's row of a case; `kept`, (steps, STATE_SIZE), takes the state after each step where it isn't null. */
static inline long run(const World *w, const double *duty, long ticks, long steps, double *row, double *kept, int full)
{
    double *s = row, *rate = row + STATE_SIZE, *held = rate + STATE_SIZE, *pending = row + ROWS, wanted[8], reached[16];
    Corner q[4] = {{0}};
    for (long number = 0; number < ticks * steps; number++) {
        const double *command = duty + 8 * (number / steps);
        if (number % steps == 0)
            for (int k = 0; k < 8; k++) wanted[k] = wanted_magnet(w->c, k, command[k], held[COIL + k]);
        valves(w->c, held, wanted, pending, number, reached);
        step(w, s, rate, held, reached, q, full);
        if (run_away(s)) return number;
        if (kept) memcpy(kept + STATE_SIZE * number, s, STATE_SIZE * sizeof *s);
        if (full && number % steps == steps - 1) warm_coils(w->c, command, (double)steps * w->c->step, held);
    }
    return ticks * steps;
}

long twin_full(const Case *c, const double *tables, const double *tracks, long points, const double *duty, long ticks, long steps, double *row, double *kept)
{
    World w = {c, tables, tracks, points};
    return run(&w, duty, ticks, steps, row, kept, 1);
}

long twin_core(const Case *c, const double *tables, const double *tracks, long points, const double *duty, long ticks, long steps, double *row, double *kept)
{
    World w = {c, tables, tracks, points};
    return run(&w, duty, ticks, steps, row, kept, 0);
}
