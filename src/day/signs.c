/* What to check on the way and before it. Common practice of the trade, no
 * source; boxes to tick, never verdicts. */
#include "brant/day.h"

enum { NEW_SNOW, WIND, WARMING };

const brant_check_item brant_signs[BRANT_SIGNS] = {
    {"New snow in 24 h", "How much has fallen, and is it more than was forecast?"},
    {"Wind", "Drifts, ripples, plumes on ridges: where has snow been laid down?"},
    {"Rising temperature", "Warmer than yesterday, rain, rollers, snow falling from rocks?"},
    {"Fresh avalanches", "Any from today or yesterday, of any size, on which aspects?"},
    {"Whumpfs and cracks", "Does the snow settle with a noise, do cracks run from the ski?"},
};

const brant_check_item brant_kit[] = {
    {"Transceiver", "Digital, three antennas; worn on the body, under the jacket or in a secured "
                    "trouser pocket."},
    {"Transceiver battery", "At least 60 % at the start: searching drains it far faster than "
                            "sending."},
    {"Transceiver check", "Each one sends and receives, checked in the group before setting out."},
    {"Probe", "240-300 cm, in the compartment kept for rescue gear."},
    {"Shovel", "Metal, in the compartment kept for rescue gear."},
    {"Phone", "Charged; off, or 50 cm and more from the transceiver, above all in a search."},
    {NULL, NULL},
};

void brant_text_sign_known(brant_text *text, int index, const brant_signs_known *known)
{
    if (index == NEW_SNOW && !isnan(known->new_snow_cm)) {
        brant_text_number(text, known->new_snow_cm, 0);
        brant_text_add(text, " cm (given)");
    } else if (index == WIND && known->wind) {
        brant_text_add(text, "from %s (given)", known->wind);
    } else if (index == WARMING && known->warming) {
        brant_text_add(text, "a rise is expected (given)");
    }
}
