/* Watch a filament printer through its network host: one JSON line, a sighting, per poll.
 *
 * Usage: watch URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]
 * Build: cc -O2 -Wall -Wextra -std=c11 watch.c -o watch -lcurl -lcjson -lm
 *
 * AUTHORITY_FILE (PEM) is whom to trust if the URL is https. Needs libcurl (7.85 or later) and cJSON (1.7.13 or later).
 * A watcher only reports what the host says. It is no fire alarm and no reason to leave a hot printer alone.
 */
#define _POSIX_C_SOURCE 200809L

#include <cjson/cJSON.h>
#include <ctype.h>
#include <curl/curl.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <unistd.h>

#define BODY_LIMIT_BYTES (1u << 20)
/* However long a host asks not to be asked, and however often it has failed: not to sleep for ever after nonsense. */
#define MOST_WAIT_S 60.0
#define COLDEST_CELSIUS (-273.15) /* absolute zero (BIPM, The International System of Units, from memory) */
#ifdef CLOCK_BOOTTIME
#define AWAKE_CLOCK CLOCK_BOOTTIME /* goes on while the machine sleeps */
#else
#define AWAKE_CLOCK CLOCK_MONOTONIC
#endif

/* Printed whenever there is no usable answer: what was seen before is withdrawn, as it may no longer be true. */
static const char UNKNOWN[] = "{\"phase\":\"unknown\",\"heaters\":{},\"progress-percent\":null,"
                              "\"elapsed-seconds\":null,\"remaining-seconds\":null}";

enum heating { HEATING_NO, HEATING_YES, HEATING_NOT_KNOWN };

/* The last answer's body, and the tag it has if it may be kept. */
static struct {
    char bytes[BODY_LIMIT_BYTES + 1]; /* one more for the closing NUL */
    size_t length;
    char tag[256];
} body;

static struct curl_slist *headers; /* those that stay the same from poll to poll */

static void leave(int signal_number)
{
    (void)signal_number;
    _exit(0); /* every line is flushed, so nothing is lost */
}

static double now_s(void)
{
    struct timespec now;
    clock_gettime(AWAKE_CLOCK, &now);
    return (double)now.tv_sec + (double)now.tv_nsec / 1e9;
}

static void sleep_s(double rest_s)
{
    if (rest_s <= 0)
        return;
    struct timespec rest = {.tv_sec = (time_t)rest_s};
    rest.tv_nsec = (long)((rest_s - (double)rest.tv_sec) * 1e9);
    nanosleep(&rest, NULL);
}

/* Takes one piece of the body; taking less than was offered makes libcurl give up. */
static size_t keep(char *piece, size_t size, size_t count, void *unused)
{
    (void)unused;
    size_t length = size * count;
    if (length > BODY_LIMIT_BYTES - body.length)
        return 0;
    memcpy(body.bytes + body.length, piece, length);
    body.length += length;
    return length;
}

/* One field of the answer's head, or an empty text. */
static const char *field(CURL *curl, const char *name)
{
    struct curl_header *found;
    return curl_easy_header(curl, name, 0, CURLH_HEADER, -1, &found) == CURLHE_OK ? found->value : "";
}

/* A date in one of the three forms of RFC 9110 s5.6.7 as Unix time; -1 for anything else. */
static time_t http_date(const char *text)
{
    return isalpha((unsigned char)text[0]) ? curl_getdate(text, NULL) : -1;
}

/* How long a host that is busy asks to be left alone (RFC 9110 s10.2.3); 0 for nothing and for nonsense. */
static double retry_after_s(CURL *curl, long status)
{
    const char *value = field(curl, "Retry-After");
    if ((status != 429 && status != 503) || value[0] == '\0')
        return 0;
    if (value[strspn(value, "0123456789")] == '\0')
        return fmin(strtod(value, NULL), MOST_WAIT_S);
    /* Held against the host's own clock if it has one, because ours may differ. */
    time_t until = http_date(value), now = http_date(field(curl, "Date"));
    double wait_s = until == -1 ? 0 : difftime(until, now == -1 ? time(NULL) : now);
    return fmin(fmax(wait_s, 0), MOST_WAIT_S);
}

/* The wait after so many failures in a row: doubled each time, and not the same for all who lost the host at once. */
static double back_off_s(int failures, double interval_s)
{
    double most_s = fmax(interval_s, fmin(8 * interval_s, MOST_WAIT_S));
    return fmin(ldexp(interval_s, failures), most_s) * (0.5 + rand() / (2.0 * RAND_MAX));
}

/* Tells whether something waits on the kept connection: its end, or what was not asked for (RFC 9112 s9.2). */
static bool is_spoilt(CURL *curl)
{
    curl_socket_t kept = CURL_SOCKET_BAD;
    curl_easy_getinfo(curl, CURLINFO_ACTIVESOCKET, &kept);
    struct pollfd waiting = {.fd = kept, .events = POLLIN};
    return kept != CURL_SOCKET_BAD && poll(&waiting, 1, 0) > 0;
}

/* Asks the host once. Returns the answer (an object, to be deleted) or NULL if there is no usable answer; then the
 * host may have asked to be left alone for a while. */
static cJSON *fetch(CURL *curl, double *wait_s)
{
    char condition[sizeof body.tag + 16];
    struct curl_slist conditional = {condition, headers}; /* spares the host a body that we have (RFC 9110 s13.1.2) */
    snprintf(condition, sizeof condition, "If-None-Match: %s", body.tag);
    curl_easy_setopt(curl, CURLOPT_HTTPHEADER, body.tag[0] == '\0' ? headers : &conditional);
    size_t kept_length = body.length;
    body.length = 0;
    CURLcode outcome = curl_easy_perform(curl); /* a body that ends early (RFC 9112 s8) is an error here */
    long status = 0;
    curl_easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &status);
    if (outcome == CURLE_OK && status == 304 && body.tag[0] != '\0') {
        body.length = kept_length; /* the last good body is true now */
    } else if (outcome == CURLE_OK && status == 200) {
        const char *tag = field(curl, "ETag");
        snprintf(body.tag, sizeof body.tag, "%s", strlen(tag) < sizeof body.tag ? tag : "");
    } else {
        fprintf(stderr, "no usable answer: %s, status %ld\n", curl_easy_strerror(outcome), status);
        *wait_s = outcome == CURLE_OK ? retry_after_s(curl, status) : 0;
        return NULL;
    }
    body.bytes[body.length] = '\0';
    cJSON *answer = cJSON_ParseWithLengthOpts(body.bytes, body.length + 1, NULL, true); /* true: nothing behind it */
    if (!cJSON_IsObject(answer)) {
        fprintf(stderr, "no usable answer: not a JSON object\n");
        cJSON_Delete(answer);
        return NULL;
    }
    return answer;
}

static const cJSON *member(const cJSON *object, const char *name)
{
    return cJSON_IsObject(object) ? cJSON_GetObjectItemCaseSensitive(object, name) : NULL;
}

static bool is_word(const cJSON *value, const char *word)
{
    return cJSON_IsString(value) && strcmp(value->valuestring, word) == 0;
}

/* A number that can be used. Null, missing and wrong types all mean that it is not known. */
static bool is_known(const cJSON *value)
{
    return cJSON_IsNumber(value) && isfinite(value->valuedouble);
}

/* Copies a number that can be: another one is a mistake or of another unit, and so not known. */
static void copy_number(cJSON *to, const char *name, const cJSON *from, double least, double most)
{
    const cJSON *value = member(from, name);
    if (is_known(value) && value->valuedouble >= least && value->valuedouble <= most)
        cJSON_AddNumberToObject(to, name, value->valuedouble);
    else
        cJSON_AddNullToObject(to, name);
}

/* Tells whether some heater is on its way to its target. */
static enum heating heating_of(const cJSON *answer)
{
    static const char ending[] = "-heating-report";
    const cJSON *reasons = member(answer, "printer-state-reasons");
    if (!cJSON_IsArray(reasons))
        return HEATING_NOT_KNOWN;
    enum heating heating = HEATING_NO;
    const cJSON *reason;
    cJSON_ArrayForEach(reason, reasons)
    {
        if (!cJSON_IsString(reason))
            return HEATING_NOT_KNOWN;
        size_t length = strlen(reason->valuestring);
        if (length >= strlen(ending) && strcmp(reason->valuestring + length - strlen(ending), ending) == 0)
            heating = HEATING_YES;
    }
    return heating;
}

/* The printer's phase in the words that a person uses. Job states: RFC 8011 s5.3.7. */
static const char *phase_of(const cJSON *answer)
{
    static const struct {
        const char *job_state, *phase;
    } phases[] = {
        {"pending", "idle"},       {"pending-held", "idle"}, {"processing-stopped", "paused"},
        {"canceled", "cancelled"}, {"aborted", "error"},     {"completed", "finished"},
    };
    enum heating heating = heating_of(answer);
    const cJSON *printer = member(answer, "printer-state");
    const cJSON *job = member(answer, "job");
    if (cJSON_IsNull(job)) { /* a job member that is missing is not null */
        if (is_word(printer, "stopped"))
            return "error";
        if (heating != HEATING_NO)
            return heating == HEATING_YES ? "heating" : "unknown";
        return is_word(printer, "idle") || is_word(printer, "processing") ? "idle" : "unknown";
    }
    const cJSON *state = member(job, "job-state");
    if (is_word(state, "processing")) {
        if (heating == HEATING_NOT_KNOWN)
            return "unknown";
        return heating == HEATING_YES ? "heating" : "printing";
    }
    for (size_t i = 0; i < sizeof phases / sizeof phases[0]; i++)
        if (is_word(state, phases[i].job_state))
            return phases[i].phase;
    return "unknown";
}

/* Adds one heater. On or off is what the host wants, so it follows from the target alone. */
static void copy_heater(cJSON *heaters, const cJSON *heater)
{
    cJSON *seen = cJSON_AddObjectToObject(heaters, heater->string);
    copy_number(seen, "actual-celsius", heater, COLDEST_CELSIUS, INFINITY);
    copy_number(seen, "target-celsius", heater, -INFINITY, INFINITY);
    const cJSON *target = member(heater, "target-celsius");
    if (is_known(target))
        cJSON_AddBoolToObject(seen, "on", target->valuedouble > 0);
    else
        cJSON_AddNullToObject(seen, "on");
}

/* What one answer says. Each value stands alone, so that one bad value does not take the others with it. */
static cJSON *sighting_of(const cJSON *answer)
{
    const cJSON *job = member(answer, "job");
    cJSON *sighting = cJSON_CreateObject();
    cJSON_AddStringToObject(sighting, "phase", phase_of(answer));
    cJSON *heaters = cJSON_AddObjectToObject(sighting, "heaters");
    const cJSON *heater;
    if (cJSON_IsObject(member(answer, "heaters")))
        cJSON_ArrayForEach(heater, member(answer, "heaters"))
            copy_heater(heaters, heater);
    copy_number(sighting, "progress-percent", job, 0, 100);
    copy_number(sighting, "elapsed-seconds", job, 0, INFINITY);
    copy_number(sighting, "remaining-seconds", job, 0, INFINITY);
    return sighting;
}

/* Sets everything about the request that stays the same from poll to poll. The connection is kept; libcurl itself asks
 * once more if the host closes it meanwhile. */
static CURL *new_request(const char *url, const char *key, double timeout_s, const char *authority)
{
    static char address[4096], authorization[4096];
    size_t url_length = strlen(url);
    while (url_length > 0 && url[url_length - 1] == '/')
        url_length--;
    int address_length = snprintf(address, sizeof address, "%.*s/printer", (int)url_length, url);
    int key_length = snprintf(authorization, sizeof authorization, "Authorization: Bearer %s", key);
    CURL *curl = curl_easy_init();
    if (curl == NULL || address_length >= (int)sizeof address || key_length >= (int)sizeof authorization)
        return NULL;
    curl_slist_free_all(headers);
    headers = curl_slist_append(curl_slist_append(NULL, authorization), "Accept: application/json");
    curl_easy_setopt(curl, CURLOPT_URL, address);
    curl_easy_setopt(curl, CURLOPT_USERAGENT, "example-watcher-c/2");
    curl_easy_setopt(curl, CURLOPT_PROTOCOLS_STR, "http,https");
    curl_easy_setopt(curl, CURLOPT_NOPROXY, "*");      /* the printer is on the local network */
    curl_easy_setopt(curl, CURLOPT_FOLLOWLOCATION, 0L); /* a redirect could hand the key to another host */
    if (authority != NULL && authority[0] != '\0') /* an empty word names none */
        curl_easy_setopt(curl, CURLOPT_CAINFO, authority); /* certificates are checked in any case */
    curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L);
    curl_easy_setopt(curl, CURLOPT_TIMEOUT_MS, (long)(timeout_s * 1000)); /* for the whole exchange */
    curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, keep);
    return curl;
}

int main(int argc, char **argv)
{
    const double interval_s = argc > 3 ? strtod(argv[3], NULL) : 1, timeout_s = fmax(2, interval_s);
    if (argc < 3 || !(interval_s > 0 && interval_s <= 3600)) {
        fprintf(stderr, "usage: watch URL KEY [INTERVAL_SECONDS] [AUTHORITY_FILE]\n");
        return 2;
    }
    signal(SIGTERM, leave);
    signal(SIGINT, leave);
    signal(SIGPIPE, SIG_IGN); /* a connection that the host has closed must not end the watcher */
    srand((unsigned)getpid());
    curl_global_init(CURL_GLOBAL_DEFAULT);
    CURL *curl = NULL;
    int failures = 0;
    for (bool anew = true;;) {
        const double asked_s = now_s();
        if (anew || is_spoilt(curl)) {
            curl_easy_cleanup(curl); /* what may still come on its connection answers no later question */
            curl = new_request(argv[1], argv[2], timeout_s, argc > 4 ? argv[4] : NULL);
        }
        if (curl == NULL) {
            fprintf(stderr, "cannot prepare the request [URL or KEY too long, or out of memory]\n");
            return 1;
        }
        double wait_s = 0;
        cJSON *answer = fetch(curl, &wait_s);
        cJSON *sighting = answer == NULL ? NULL : sighting_of(answer);
        char *line = sighting == NULL ? NULL : cJSON_PrintUnformatted(sighting);
        cJSON_Delete(sighting);
        cJSON_Delete(answer);
        /* If we slept while we asked, what was read is old: ask again at once. */
        const bool slept = line != NULL && now_s() - asked_s > timeout_s;
        anew = line == NULL || slept;
        if (anew)
            body.tag[0] = '\0';
        if (slept) {
            cJSON_free(line);
            continue;
        }
        puts(line == NULL ? UNKNOWN : line);
        failures = line == NULL ? failures + 1 : 0;
        cJSON_free(line);
        if (fflush(stdout) != 0)
            return 0; /* nobody reads any more */
        if (failures > 0) /* a little longer than asked for, each time another little */
            sleep_s(fmax(back_off_s(failures, interval_s), wait_s * (1 + rand() / (10.0 * RAND_MAX))));
        else /* to the next multiple of the interval: a slow answer must not change the rhythm */
            sleep_s(interval_s - fmod(now_s() - asked_s, interval_s));
    }
}
