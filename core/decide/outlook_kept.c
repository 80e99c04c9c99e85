#include "core/decide/outlook_kept.h"

#include <string.h>

#include "core/decide/outlook_lanes.h"

/* Water percolates on a day when depletion less excess, D, is below 0 after rain, turn and use (water_out()).
 * Here is followed what D is at least; as long as that is above 0 in the evening, nothing has gone below, and
 * there is no excess to carry on. With L at most D on the evening before:
 *
 * - Water in: D becomes the smaller of D + reached and TAW, less rain - runoff, less turn, less what rises,
 *   which is at most the capillary limit and leaves D at 0 or more. Reached and runoff are 0 or more, and no
 * term grows faster than D, so V, made of L with neither of them, is at most D.
 * - Use: evaporation is 0 or more. While D is at most RAW, the crop takes Ks salt x Kc x ET0 in full; if it
 *   is beyond, D stays beyond RAW. So D in the evening is at least V, and at least the smaller of V + Ks salt
 *   x Kc x ET0 and RAW. With the dual coefficient Kc is Kcb here; RAW is least where ETc is most, at Kc max
 *   (Table 22, footnote; eq. 71 holds Kcb + Ke to Kc max), and below TAW (p is 0.95 at most, crop.h). A root
 *   zone that is empty has D = TAW, which is no less than V.
 * - A reading moves both by the same, within 0 and TAW.
 *
 * Both D and its bound are sums of some hundred terms, each below 1e4 mm and rounded to 1e-12 mm; ROUNDED_MM
 * is far beyond what that makes. */
#define ROUNDED_MM 1e-6

#define GONE (-HUGE_VAL) /* something may have percolated: stays below 0 whatever follows */

/* Takes the bound of members through a day. */
VECTORS_WIDER static void keep_day(const struct light *given, const double *restrict et0_mm,
                                   const double *restrict rain_mm, double *restrict left_mm) {
    const struct light light = *given;
    const double kc = light.ks_salt * (light.single > 0 ? light.kc : light.kcb);
    const double kc_most = light.single > 0 ? light.kc : light.kc_max, taw_mm = light.taw_mm;
    const double shift_mm = light.shifted > 0 ? light.reading_shift_mm : 0;
    for (int m = 0; m < OUTLOOK_LANES; m++) {
        double et_mm = et0_mm[m] > 0 ? et0_mm[m] : 0;
        double kept_mm = left_mm[m] < taw_mm ? left_mm[m] : taw_mm;
        double after_mm = kept_mm - light_rain_mm(&light, rain_mm[m]) - light.net_mm;
        double risen_mm = light.capillary_limit_mm < after_mm ? light.capillary_limit_mm : after_mm;
        after_mm -= risen_mm > 0 ? risen_mm : 0;
        double raw_mm = light_p(&light, kc_most * et_mm) * taw_mm;
        double used_mm = after_mm + kc * et_mm;
        used_mm = used_mm < raw_mm ? used_mm : raw_mm;
        double evening_mm = after_mm > used_mm ? after_mm : used_mm, shifted_mm = evening_mm + shift_mm;
        shifted_mm = shifted_mm < 0 ? 0 : shifted_mm;
        shifted_mm = shifted_mm > taw_mm ? taw_mm : shifted_mm;
        left_mm[m] = evening_mm > ROUNDED_MM ? shifted_mm : GONE;
    }
}

void outlook_kept(const struct outlook_field *field, const struct light *lights, int days,
                  const struct outlook_weather *weather, double *left_mm) {
    const double taw_mm = lights[0].taw_mm, start_mm = field->start.depletion_mm;
    for (int first = 0; first < weather->members; first += OUTLOOK_LANES) {
        struct outlook_lanes_room room;
        double kept_mm[OUTLOOK_LANES];
        int count = weather->members - first;
        for (int i = 0; i < OUTLOOK_LANES; i++)
            kept_mm[i] = (start_mm < taw_mm ? start_mm : taw_mm) - field->start.excess_mm;
        for (int day = 0; day < days; day++) {
            struct outlook_lanes_weather taken = outlook_lanes_weather_of(weather, day, first, &room);
            keep_day(&lights[day], taken.et0_mm, taken.rain_mm, kept_mm);
        }
        memcpy(&left_mm[first], kept_mm,
               (size_t)(count < OUTLOOK_LANES ? count : OUTLOOK_LANES) * sizeof *left_mm);
    }
}
