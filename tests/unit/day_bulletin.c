/* The bulletin's reader. The format: the CAAML v6 schema of the profile
 * BulletinEAWS, stored commit of 2023-08-28; names of earlier drafts from its
 * history. Fixtures are invented; test_bulletin_schema.py holds them against the
 * schema itself. */
#include "day_bulletin.h"

static void refuse_with(const char *text, const brant_bulletin_options *options,
                        brant_status expected, const char *words)
{
    char message[BRANT_MESSAGE_MAX];
    brant_bulletin bulletin;
    brant_status status = parse_text(text, strlen(text), options, &bulletin, message);
    if (status != expected || !strstr(message, words) ||
        strncmp(message, "bulletin.json: ", 15) != 0 || strchr(message, '\n'))
        fail_msg("%s\n gave %d: %s\n not %d: %s", text, status, message, expected, words);
    assert_null(bulletin.ratings);
    assert_int_equal(bulletin.rating_count, 0);
}

static void refuse(const char *text, const char *words)
{
    refuse_with(text, &BRANT_BULLETIN_OPTIONS, BRANT_ERR_INPUT, words);
}

static void assert_says(void (*add)(brant_text *, const brant_bulletin *),
                        const brant_bulletin *bulletin, const char *expected)
{
    brant_text text = {0};
    add(&text, bulletin);
    assert_string_equal(text.data, expected);
    brant_text_clear(&text);
}

static void assert_problem(const brant_problem *problem, const char *expected)
{
    brant_text text = {0};
    brant_text_problem(&text, problem);
    assert_string_equal(text.data, expected);
    brant_text_clear(&text);
}

static void test_demo(void **state)
{
    (void)state;
    brant_bulletin b = good("quern_bulletin.json", &BRANT_BULLETIN_OPTIONS);
    brant_text text = {0};
    assert_false(b.by_hand);
    assert_string_equal(b.name, "bulletin.json");
    assert_string_equal(b.lang, "en");
    assert_string_equal(b.source, "Invented Avalanche Service");
    assert_non_null(strstr(b.highlights, "weak layer"));
    assert_int_equal(b.published.utc_s, 1802446200);
    assert_int_equal(b.valid_from.utc_s, 1802448000);
    assert_int_equal(b.valid_to.utc_s, 1802534400);
    assert_int_equal(b.valid_to.offset_min, 60);
    assert_int_equal(b.region_count, 1);
    assert_string_equal(b.regions[0].id, "QQ-05-01");
    assert_int_equal(b.rating_count, 3);
    assert_int_equal(b.ratings[0].level, BRANT_LEVEL_3);
    assert_int_equal(b.ratings[0].extent.aspects, 0xc7);
    assert_true(b.ratings[0].extent.lower_m == 2200 && isnan(b.ratings[0].extent.upper_m));
    assert_int_equal(b.problem_count, 2);
    assert_non_null(strstr(b.problems[0].comment, "faceted"));
    assert_says(brant_text_region, &b, "East Quern");
    assert_says(brant_text_ratings, &b, "3 above 2,200 m W-N-E; 2 elsewhere (stated)");
    assert_problem(&b.problems[0], "Persistent weak layer above 2,200 m W-N-E, size 3, "
                                   "stability poor, frequency some, level 3");
    assert_problem(&b.problems[1],
                   "Gliding snow below 2,200 m SE-S-SW, size 2, frequency few");
    brant_text_validity(&text, &b, 60);
    assert_string_equal(text.data, "valid Fri 17:00 - Sat 17:00");
    brant_text_clear(&text);
    assert_true(brant_bulletin_states_all(&b, BRANT_ALL_DAY));
    brant_bulletin_clear(&b);
}

static void test_halves_and_treeline(void **state)
{
    (void)state;
    brant_bulletin_options options = BRANT_BULLETIN_OPTIONS;
    options.treeline_m = 1900;
    brant_bulletin b = good("bulletins/halves_treeline.json", &options);
    assert_int_equal(b.rating_count, 5);
    assert_int_equal(b.ratings[0].extent.periods, BRANT_EARLIER);
    assert_int_equal(b.ratings[3].extent.periods, BRANT_LATER);
    assert_true(b.ratings[0].extent.upper_treeline && b.ratings[0].extent.upper_m == 1900);
    assert_false(b.ratings[0].extent.lower_treeline);
    assert_says(brant_text_ratings, &b,
                "earlier: 3 above tree line (1,900 m) NW-N-NE; 2 above tree line (1,900 m) E-S-W; "
                "1 below tree line (1,900 m); later: 3 below 2,600 m; 2 above 2,600 m");
    assert_problem(&b.problems[0], "Wind slab above tree line (1,900 m) NW-N-NE, size 2, "
                                   "stability very poor, frequency few, level 3");
    assert_problem(&b.problems[1], "Wet snow below 2,600 m E-S-W, later, size 2.5");
    brant_bulletin_clear(&b);
    /* a treeline without metres, or with metres that turn a band over */
    size_t size;
    char *data = read_testdata("bulletins/halves_treeline.json", &size);
    refuse_with(data, &BRANT_BULLETIN_OPTIONS, BRANT_ERR_USAGE,
                "bulletins[0].dangerRatings[0].elevation.upperBound: the tree line's");
    free(data);
    refuse_with("{\"bulletins\":[{\"dangerRatings\":[{\"mainValue\":\"low\",\"elevation\":"
                "{\"lowerBound\":\"treeline\",\"upperBound\":\"1800\"}}]}]}",
                &options, BRANT_ERR_USAGE, "dangerRatings[0].elevation: with the tree line");
}

static void test_bands(void **state)
{
    (void)state;
    brant_bulletin b = good("bulletins/bands_no_rating.json", &BRANT_BULLETIN_OPTIONS);
    assert_says(brant_text_ratings, &b,
                "no rating above 2,400 m; 4 at 1,600-2,400 m; no snow below 1,600 m");
    assert_says(brant_text_region, &b, "QQ-11");
    assert_int_equal(b.ratings[1].level, BRANT_LEVEL_NO_RATING);
    assert_int_equal(b.ratings[2].level, BRANT_LEVEL_NO_SNOW);
    assert_int_equal(b.problems[0].extent.aspects, 0x02); /* NE; n/a names none */
    assert_int_equal(b.problems[1].extent.aspects, BRANT_ASPECTS_ALL);
    assert_true(isnan(b.problems[1].size) && !b.problems[1].stability);
    assert_false(b.published.has_offset);
    brant_bulletin_clear(&b);
}

static void test_regions(void **state)
{
    (void)state;
    size_t size;
    char *data = read_testdata("bulletins/regions.json", &size);
    brant_bulletin_options options = BRANT_BULLETIN_OPTIONS;
    refuse_with(data, &options, BRANT_ERR_USAGE, "QQ-01 (North Tarn), QQ-02, QQ-03 (South Tarn)");
    options.region = "QQ-04";
    refuse_with(data, &options, BRANT_ERR_USAGE,
                "no region QQ-04; regions: QQ-01 (North Tarn), QQ-02, QQ-03 (South Tarn)");
    options.region = "QQ-03"; /* only here is there a treeline */
    refuse_with(data, &options, BRANT_ERR_USAGE, "bulletins[1].dangerRatings[0].elevation.lower");
    free(data);
    options.region = "QQ-02";
    brant_bulletin b = good("bulletins/regions.json", &options);
    assert_int_equal(b.chosen_region, 1);
    assert_says(brant_text_region, &b, "QQ-02");
    assert_says(brant_text_ratings, &b, "2 everywhere");
    brant_bulletin_clear(&b);
    options = (brant_bulletin_options){.region = "QQ-03", .treeline_m = 2000};
    b = good("bulletins/regions.json", &options);
    assert_string_equal(b.source, "A. Nyone");
    assert_says(brant_text_ratings, &b,
                "4 above tree line (2,000 m); elsewhere not stated");
    assert_false(brant_bulletin_states_all(&b, BRANT_EARLIER));
    brant_bulletin_clear(&b);
    options.region = "A";
    refuse_with("{\"bulletins\":[{\"regions\":[{\"regionID\":\"A\"}]},"
                "{\"regions\":[{\"regionID\":\"A\"}]}]}",
                &options, BRANT_ERR_INPUT, "region A is in bulletins[0] and bulletins[1]");
    refuse_with("{\"bulletins\":[{}]}", &options, BRANT_ERR_USAGE, "regions: none is named");
}

static void test_silent_bulletin(void **state)
{
    (void)state;
    static const char text[] = "\xef\xbb\xbf{\"bulletins\":[{}]}\n";
    char message[BRANT_MESSAGE_MAX];
    brant_bulletin b;
    brant_text why = {0};
    assert_int_equal(parse_text(text, strlen(text), &BRANT_BULLETIN_OPTIONS, &b, message),
                     BRANT_OK);
    assert_says(brant_text_region, &b, "region not stated");
    assert_says(brant_text_ratings, &b, "no level stated");
    assert_false(brant_bulletin_covers(&b, 0, 1, 0, &why));
    assert_string_equal(why.data,
                        "valid time not stated, the tour is Thu 1 Jan 1970 00:00 - 00:00");
    brant_text_clear(&why);
    brant_bulletin_clear(&b);
}

/* The schema requires nothing but a region's regionID, a rating's mainValue and a problem's
 * problemType: each member alone is a bulletin. */
static void test_members_alone(void **state)
{
    (void)state;
    static const char *const members[] = {
        "\"validTime\":{}",
        "\"validTime\":{\"startTime\":\"2027-02-12T17:00:00+01:00\"}",
        "\"validTime\":{\"endTime\":\"2027-02-13T17:00:00+01:00\"}",
        "\"source\":{\"provider\":{}}", "\"source\":{\"provider\":{\"contactPerson\":{}}}",
        "\"source\":{\"person\":{\"website\":\"w\"}}",
        "\"regions\":[{\"regionID\":\"QQ\"}]", "\"dangerRatings\":[{\"mainValue\":\"low\"}]",
        "\"dangerRatings\":[{\"mainValue\":\"low\",\"elevation\":{}}]",
        "\"avalancheProblems\":[{\"problemType\":\"new_snow\"}]",
        "\"weatherForecast\":{}", "\"weatherReview\":{\"comment\":\"c\"}",
        "\"avalancheActivity\":{\"highlights\":\"h\"}", "\"snowpackStructure\":{}",
        "\"travelAdvisory\":{}", "\"tendency\":[{}]",
        "\"tendency\":[{\"tendencyType\":\"steady\"}]",
        "\"tendency\":[{\"validTime\":{\"endTime\":\"2027-02-13T17:00:00+01:00\"}}]",
        "\"metaData\":{}", "\"metaData\":{\"comment\":\"c\"}", "\"metaData\":{\"extFiles\":[{}]}",
        "\"customData\":[1]", "\"lang\":\"en\"", "\"unscheduled\":true",
    };
    for (size_t i = 0; i < COUNT(members); i++) {
        char text[300], message[BRANT_MESSAGE_MAX];
        brant_bulletin b;
        snprintf(text, sizeof text, "{\"bulletins\":[{%s}]}", members[i]);
        if (parse_text(text, strlen(text), &BRANT_BULLETIN_OPTIONS, &b, message) != BRANT_OK)
            fail_msg("%s: %s", members[i], message);
        assert_int_equal(b.valid_from.has_offset, i == 1);
        assert_int_equal(b.valid_to.has_offset, i == 2);
        if (i == 1 || i == 2)
            assert_says(brant_text_validity_dates, &b,
                        i == 1 ? "valid from Fri 12 Feb 2027 17:00"
                               : "valid until Sat 13 Feb 2027 17:00");
        brant_bulletin_clear(&b);
    }
}

static void test_covers(void **state)
{
    (void)state;
    brant_bulletin b = good("quern_bulletin.json", &BRANT_BULLETIN_OPTIONS);
    brant_text why = {0};
    int64_t from = b.valid_from.utc_s, to = b.valid_to.utc_s;
    assert_true(brant_bulletin_covers(&b, from, to, 60, &why));
    assert_null(why.data);
    assert_false(brant_bulletin_covers(&b, from - 1, to, 60, &why));
    brant_text_clear(&why);
    assert_false(brant_bulletin_covers(&b, to - 3600, to + 60, 60, &why));
    assert_string_equal(why.data, "valid Fri 12 Feb 2027 17:00 - Sat 13 Feb 2027 17:00, the tour "
                                  "is Sat 13 Feb 2027 16:00 - 17:01");
    brant_text_clear(&why);
    brant_bulletin_clear(&b);
}

/* The fixtures that must fail, and one text for each way to be no bulletin. */
static void test_refused_files(void **state)
{
    (void)state;
    static const struct {
        const char *file, *words;
    } cases[] = {
        {"bulletins/bad_enum.json",
         "bulletins[0].dangerRatings[1].mainValue: \"2\" is none of low, moderate"},
        {"bulletins/bad_numeric_bound.json",
         "bulletins[0].dangerRatings[0].elevation.upperBound: is a number, not a string"},
        {"bulletins/trap_loose_bounds.json",
         "bulletins[0].dangerRatings[0].elevation.lowerBound: \"2150\" is neither"},
    };
    for (size_t i = 0; i < COUNT(cases); i++) {
        size_t size;
        char *data = read_testdata(cases[i].file, &size);
        refuse(data, cases[i].words);
        free(data);
    }
}

/* `member` inside the first bulletin. */
static void refuse_member(const char *member, const char *words)
{
    char text[1000];
    snprintf(text, sizeof text, "{\"bulletins\":[{%s}]}", member);
    refuse(text, words);
}

static void test_refused_structure(void **state)
{
    (void)state;
    refuse("", "not JSON");
    refuse("level 3", "not JSON");
    refuse("{\"bulletins\":[]} x", "not JSON");
    refuse("[]", "is an array, not an object");
    refuse("{}", "\"bulletins\" is missing");
    refuse("{\"bulletins\":[]}", "holds no bulletin");
    refuse("{\"bulletins\":{}}", "bulletins: is an object, not an array");
    refuse("{\"bulletins\":[null]}", "bulletins[0]: is null, not an object");
    refuse("{\"bulletins\":[{}],\"type\":\"x\"}", "\"type\" is no member");
    refuse("{\"bulletins\":[{}],\"bulletins\":[{}]}", "duplicate");
    refuse("{\"bulletins\":[{\"lang\":\"\xff\xff\"}]}", "not JSON");
    refuse_member("\"danger\\nRating\":3", "bulletins[0]: \"danger?Rating\" is no member");
    refuse_member("\"lang\":null", "bulletins[0].lang: is null, not a string");
    refuse_member("\"lang\":\"eng\"", "no two-letter language code");
    refuse_member("\"unscheduled\":\"no\"", "unscheduled: is a string, not true or false");
    refuse_member("\"source\":{}", "source: is not either");
    refuse_member("\"source\":{\"person\":{},\"provider\":{}}", "source: is not either");
    refuse_member("\"regions\":[{\"name\":\"x\"}]", "regions[0]: \"regionID\" is missing");
    refuse_member("\"dangerRatings\":[{}]", "dangerRatings[0]: \"mainValue\" is missing");
    refuse_member("\"dangerRatings\":[{\"mainValue\":\"low\",\"level\":1}]",
                  "dangerRatings[0]: \"level\" is no member");
    refuse_member("\"dangerRatings\":[{\"mainValue\":\"low\",\"aspects\":[\"NNW\"]}]",
                  "dangerRatings[0].aspects[0]: \"NNW\" is none of N, NE");
    refuse_member("\"avalancheProblems\":[{}]", "\"problemType\" is missing");
    refuse_member("\"avalancheProblems\":[{\"problemType\":\"wet_snow\",\"avalancheSize\":6}]",
                  "avalancheProblems[0].avalancheSize: an avalanche size is 1 to 5");
    refuse_member("\"tendency\":[{\"tendencyType\":\"up\"}]", "tendency[0].tendencyType: \"up\"");
    refuse_member("\"metaData\":{\"extFiles\":[{\"uri\":1}]}", "metaData.extFiles[0]: \"uri\"");
}

static void test_refused_times(void **state)
{
    (void)state;
    refuse_member("\"publicationTime\":\"today\"", "publicationTime: \"today\" is no date");
    refuse_member("\"validTime\":{\"startTime\":\"2027-02-12T17:00:00\"}",
                  "validTime.startTime: \"2027-02-12T17:00:00\" has no offset");
    refuse_member("\"validTime\":{\"startTime\":\"2027-02-12T17:00:00Z\","
                  "\"endTime\":\"2027-02-12T18:00:00+01:00\"}",
                  "validTime: ends (2027-02-12T18:00:00+01:00) no later than");
}

static void test_refused_bounds(void **state)
{
    (void)state;
    static const char *const bounds[] = {"1850", "-100", "2000m", "0100", "00", "100 ", "",
                                         "Treeline", "10000", "1e3", "1,800", "not a 0 number"};
    for (size_t i = 0; i < COUNT(bounds); i++) {
        char text[300], words[100];
        snprintf(text, sizeof text,
                 "\"avalancheProblems\":[{\"problemType\":\"wet_snow\",\"elevation\":"
                 "{\"upperBound\":\"%s\"}}]",
                 bounds[i]);
        snprintf(words, sizeof words, "upperBound: \"%s\" is neither", bounds[i]);
        refuse_member(text, words);
    }
    refuse_member("\"dangerRatings\":[{\"mainValue\":\"low\",\"elevation\":"
                  "{\"lowerBound\":\"2000\",\"upperBound\":\"2000\"}}]",
                  "elevation: lowerBound \"2000\" is not below upperBound");
    refuse_member("\"dangerRatings\":[{\"mainValue\":\"low\",\"elevation\":"
                  "{\"lowerBound\":\"treeline\",\"upperBound\":\"treeline\"}}]",
                  "is not below upperBound");
}

static void test_earlier_drafts(void **state)
{
    (void)state;
    refuse_member("\"avalancheProblems\":[{\"problemType\":\"wind_drifted_snow\"}]",
                  "problemType: \"wind_drifted_snow\" is an earlier draft's name: now "
                  "\"wind_slab\"");
    refuse_member("\"avalancheProblems\":[{\"problemType\":\"cornice_failure\"}]",
                  "now \"cornices\"");
    refuse_member("\"wxSynopsis\":{}", "\"wxSynopsis\" is an earlier draft's name: now "
                                       "\"weatherForecast\"");
    refuse_member("\"wrSynopsis\":{}", "now \"weatherReview\"");
    refuse_member("\"tendency\":{\"tendencyType\":\"steady\"}",
                  "tendency: is an object, an earlier draft's form: now an array");
}

static void test_limits(void **state)
{
    (void)state;
    char deep[300] = "{\"bulletins\":[{\"customData\":", message[BRANT_MESSAGE_MAX];
    size_t start = strlen(deep), levels = BRANT_BULLETIN_MAX_DEPTH - 3;
    memset(deep + start, '[', levels);
    memset(deep + start + levels, ']', levels);
    strcpy(deep + start + 2 * levels, "}]}");
    brant_bulletin b;
    assert_int_equal(parse_text(deep, strlen(deep), &BRANT_BULLETIN_OPTIONS, &b, message),
                     BRANT_OK);
    brant_bulletin_clear(&b);
    memset(deep + start, '[', levels + 1);
    memset(deep + start + levels + 1, ']', levels + 1);
    strcpy(deep + start + 2 * levels + 2, "}]}");
    refuse(deep, "nested deeper than 64");
    /* brackets inside a string are no nesting */
    memset(deep + start, '[', 2 * levels + 2);
    deep[start] = deep[start + 2 * levels + 1] = '"';
    assert_int_equal(parse_text(deep, strlen(deep), &BRANT_BULLETIN_OPTIONS, &b, message),
                     BRANT_OK);
    brant_bulletin_clear(&b);
    size_t size = BRANT_BULLETIN_MAX_BYTES + 1;
    char *big = malloc(size);
    memset(big, ' ', size);
    assert_int_equal(parse_text(big, size, &BRANT_BULLETIN_OPTIONS, &b, message),
                     BRANT_ERR_INPUT);
    assert_non_null(strstr(message, "larger than 16 MiB"));
    free(big);
    brant_text text = {0};
    brant_text_add(&text, "{\"bulletins\":[{\"avalancheProblems\":[");
    for (int i = 0; i <= BRANT_PROBLEMS_MAX; i++)
        brant_text_add(&text, "%s{\"problemType\":\"wet_snow\"}", i ? "," : "");
    brant_text_add(&text, "]}]}");
    refuse(text.data, "avalancheProblems: more than 32");
    brant_text_clear(&text);
}

/* Cut off at every byte, each file is refused in one line, and none is read. */
static void test_truncated(void **state)
{
    (void)state;
    static const char *const files[] = {"quern_bulletin.json", "bulletins/halves_treeline.json",
                                        "bulletins/regions.json"};
    const brant_bulletin_options options = {.region = NULL, .treeline_m = 1900};
    for (size_t i = 0; i < COUNT(files); i++) {
        size_t size;
        char *data = read_testdata(files[i], &size);
        size_t end = (size_t)(strrchr(data, '}') - data); /* the last brace is still needed */
        for (size_t cut = 0; cut <= end; cut++) {
            char *exact = malloc(cut + 1); /* so that reading past the end shows */
            memcpy(exact, data, cut);
            char message[BRANT_MESSAGE_MAX];
            brant_bulletin b;
            char *fitted = cut ? realloc(exact, cut) : exact;
            assert_int_equal(parse_text(fitted, cut, &options, &b, message), BRANT_ERR_INPUT);
            assert_non_null(strstr(message, "not JSON"));
            assert_null(strchr(message, '\n'));
            free(fitted);
        }
        free(data);
    }
}

/* One byte changed anywhere: read or refused, never a crash (for the sanitizers). */
static void test_garbled(void **state)
{
    (void)state;
    size_t size, refused = 0;
    char *data = read_testdata("bulletins/halves_treeline.json", &size);
    const brant_bulletin_options options = {.region = NULL, .treeline_m = 1900};
    for (size_t i = 0; i < size; i++) {
        char before = data[i], message[BRANT_MESSAGE_MAX];
        brant_bulletin b;
        data[i] = (char)(before ^ (1 << i % 7));
        if (parse_text(data, size, &options, &b, message))
            refused++;
        brant_bulletin_clear(&b);
        data[i] = before;
    }
    assert_true(refused > size / 2);
    free(data);
}

static void test_by_hand(void **state)
{
    (void)state;
    brant_context ctx;
    brant_context_init(&ctx);
    brant_bulletin b;
    const brant_bulletin_options none = BRANT_BULLETIN_OPTIONS;
    assert_int_equal(brant_bulletin_by_hand(&ctx, 3, 1800, NAN, "NW-N-NE,E", &none, &b), BRANT_OK);
    assert_true(b.by_hand && brant_bulletin_covers(&b, 0, 1, 0, NULL));
    assert_int_equal(b.ratings[0].extent.aspects, 0x87);
    assert_says(brant_text_region, &b, "by hand");
    assert_says(brant_text_ratings, &b, "3 above 1,800 m NW-N-E; elsewhere not stated");
    brant_bulletin_clear(&b);
    assert_int_equal(brant_bulletin_by_hand(&ctx, 2, NAN, NAN, NULL, &none, &b), BRANT_OK);
    assert_says(brant_text_ratings, &b, "2 everywhere");
    brant_bulletin_clear(&b);
    static const struct {
        long long level;
        double above, below;
        const char *aspects, *words;
    } bad[] = {{0, NAN, NAN, NULL, "level 0"},
               {6, NAN, NAN, NULL, "level 6"},
               {3, NAN, NAN, "NNW", "aspects 'NNW'"},
               {3, 2000, 2000, "N", "nowhere"}};
    for (size_t i = 0; i < COUNT(bad); i++) {
        brant_forgive(&ctx);
        assert_int_equal(brant_bulletin_by_hand(&ctx, bad[i].level, bad[i].above, bad[i].below,
                                                bad[i].aspects, &none, &b),
                         BRANT_ERR_USAGE);
        assert_non_null(strstr(brant_message(&ctx), bad[i].words));
        brant_bulletin_clear(&b);
    }
    brant_context_clear(&ctx);
}

static void test_aspects(void **state)
{
    (void)state;
    static const struct {
        const char *text;
        brant_aspects aspects;
    } cases[] = {{"N", 0x01},           {"nw", 0x80},   {"NW-N-NE,E", 0x87}, {"NW-NE", 0x83},
                 {"W-N-E", 0xc7},       {"W-E", 0xc7},  {"E-W", 0x7c},       {"S-N", 0xf1},
                 {"SE-NE", 0xfb},       {"N,S, E", 0x15}, {"N,N", 0x01},
                 {"N,NE,E,SE,S,SW,W,NW", 0xff}};
    for (size_t i = 0; i < COUNT(cases); i++) {
        brant_aspects aspects = 0;
        assert_true(brant_aspects_parse(cases[i].text, &aspects));
        assert_int_equal(aspects, cases[i].aspects);
    }
    static const char *const bad[] = {"", ",", "N,", ",N", "N-", "-N", "N-N", "NNW", "O", "NE-N",
                                      "NE-N-NW", "N--E", "N E", "N;E", "all", "0", "N-E-N"};
    for (size_t i = 0; i < COUNT(bad); i++) {
        brant_aspects aspects = 0x55;
        assert_false(brant_aspects_parse(bad[i], &aspects));
        assert_int_equal(aspects, 0x55);
    }
    /* every set but none and all is told so that it reads back */
    for (brant_aspects set = 1; set < BRANT_ASPECTS_ALL; set++) {
        brant_text text = {0};
        brant_aspects back = 0;
        brant_text_aspects(&text, set);
        assert_true(brant_aspects_parse(text.data, &back));
        assert_int_equal(back, set);
        brant_text_clear(&text);
    }
}

static void test_signs_and_kit(void **state)
{
    (void)state;
    const brant_signs_known nothing = {.new_snow_cm = NAN};
    const brant_signs_known all = {.new_snow_cm = 30, .wind = "240-300", .warming = true};
    static const char *const expected[BRANT_SIGNS] = {"30 cm (given)", "from 240-300 (given)",
                                                      "a rise is expected (given)", NULL, NULL};
    for (int i = 0; i < BRANT_SIGNS; i++) {
        brant_text text = {0};
        assert_true(brant_signs[i].title[0] && brant_signs[i].text[0]);
        brant_text_sign_known(&text, i, &nothing);
        assert_null(text.data);
        brant_text_sign_known(&text, i, &all);
        if (expected[i])
            assert_string_equal(text.data, expected[i]);
        else
            assert_null(text.data);
        brant_text_clear(&text);
    }
    size_t items = 0;
    while (brant_kit[items].title)
        assert_non_null(brant_kit[items++].text);
    assert_int_equal(items, 6);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(test_demo),           cmocka_unit_test(test_halves_and_treeline),
        cmocka_unit_test(test_bands),          cmocka_unit_test(test_regions),
        cmocka_unit_test(test_silent_bulletin), cmocka_unit_test(test_members_alone),
        cmocka_unit_test(test_covers),
        cmocka_unit_test(test_refused_files),  cmocka_unit_test(test_refused_structure),
        cmocka_unit_test(test_refused_times),  cmocka_unit_test(test_refused_bounds),
        cmocka_unit_test(test_earlier_drafts), cmocka_unit_test(test_limits),
        cmocka_unit_test(test_truncated),      cmocka_unit_test(test_garbled),
        cmocka_unit_test(test_by_hand),        cmocka_unit_test(test_aspects),
        cmocka_unit_test(test_signs_and_kit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
