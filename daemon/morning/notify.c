#include "daemon/morning/notify.h"

#include <stdio.h>
#include <string.h>
#include <time.h>

#include <sodium.h>

#include "daemon/source/download.h"
#include "daemon/source/libcurl.h"

#define TIMEOUT_S         60L
#define CONNECT_TIMEOUT_S 20L
#define WORD_BYTES        45 /* of an encoded word, so that it stays within 75 characters (RFC 2047, 2) */

int64_t notify_wait_s(int tries) {
    static const int64_t waits[] = {60, 300, 900, 3600};
    return waits[tries < 1 ? 0 : tries > 4 ? 3 : tries - 1];
}

/* ---- headers ---- */

static bool is_ascii(const char *text) {
    for (; *text != '\0'; text++) {
        if ((unsigned char)*text < 0x20 || (unsigned char)*text > 0x7E)
            return false;
    }
    return true;
}

/* The bytes of `text` that one encoded word takes: whole characters. */
static size_t word_size(const char *text) {
    size_t size = strnlen(text, WORD_BYTES);
    while (size > 0 && ((unsigned char)text[size] & 0xC0) == 0x80)
        size--;
    return size;
}

void notify_encode_header(const char *value, struct text *out) {
    if (is_ascii(value)) {
        text_puts(out, value);
        return;
    }
    for (bool first = true; *value != '\0'; first = false) {
        char word[sodium_base64_ENCODED_LEN(WORD_BYTES, sodium_base64_VARIANT_ORIGINAL)];
        size_t size = word_size(value);
        size = size > 0 ? size : 1;
        sodium_bin2base64(word, sizeof word, (const unsigned char *)value, size,
                          sodium_base64_VARIANT_ORIGINAL);
        text_printf(out, "%s=?UTF-8?B?%s?=", first ? "" : "\r\n ", word);
        value += size;
    }
}

static struct curl_slist *add_header(struct curl_slist *list, const char *name, const char *value,
                                     bool *good) {
    struct text line;
    text_init(&line, 4096);
    text_printf(&line, "%s: ", name);
    notify_encode_header(value, &line);
    struct curl_slist *longer = text_failed(&line) ? NULL : libcurl.slist_append(list, text_string(&line));
    text_free(&line);
    *good = *good && longer != NULL;
    return longer != NULL ? longer : list;
}

/* RFC 5322, 3.3; English names whatever the locale. */
static void date_text(int64_t at, char out[64]) {
    static const char *const days[] = {"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"};
    static const char *const months[] = {"Jan", "Feb", "Mar", "Apr", "May", "Jun",
                                         "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"};
    time_t instant = (time_t)at;
    struct tm utc = {0};
    (void)gmtime_r(&instant, &utc);
    (void)snprintf(out, 64, "%s, %d %s %d %02d:%02d:%02d +0000", days[utc.tm_wday % 7], utc.tm_mday,
                   months[utc.tm_mon % 12], utc.tm_year + 1900, utc.tm_hour, utc.tm_min, utc.tm_sec);
}

static struct curl_slist *mail_headers(const struct notify_mail *mail, bool *good) {
    char date[64], id[256];
    const char *at_sign = strchr(mail->from, '@');
    date_text(mail->at, date);
    (void)snprintf(id, sizeof id, "<%s%s>", mail->id, at_sign != NULL ? at_sign : "@localhost");
    struct curl_slist *list = add_header(NULL, "From", mail->from, good);
    list = add_header(list, "To", mail->to, good);
    list = add_header(list, "Subject", mail->subject, good);
    list = add_header(list, "Date", date, good);
    list = add_header(list, "Message-ID", id, good);
    return add_header(list, "Auto-Submitted", "auto-generated", good); /* RFC 3834 */
}

/* ---- transfers ---- */

static size_t swallow(char *bytes, size_t size, size_t count, void *context) {
    (void)bytes;
    (void)context;
    return size * count;
}

static bool set_common(CURL *curl, const char *address, const char *protocols, char *error) {
    return libcurl.easy_setopt(curl, CURLOPT_URL, address) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_PROTOCOLS_STR, protocols) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_TIMEOUT, TIMEOUT_S) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_CONNECTTIMEOUT, CONNECT_TIMEOUT_S) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_NOSIGNAL, 1L) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_WRITEFUNCTION, swallow) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_ERRORBUFFER, error) == CURLE_OK &&
           (!download_on_this_machine(address) || libcurl.easy_setopt(curl, CURLOPT_PROXY, "") == CURLE_OK);
}

static bool set_login(CURL *curl, const char *login) {
    char user[256];
    const char *colon = login != NULL ? strchr(login, ':') : NULL;
    if (login == NULL)
        return true;
    if (colon == NULL || (size_t)(colon - login) >= sizeof user)
        return false;
    (void)snprintf(user, sizeof user, "%.*s", (int)(colon - login), login);
    return libcurl.easy_setopt(curl, CURLOPT_USERNAME, user) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_PASSWORD, colon + 1) == CURLE_OK;
}

static bool set_body(CURL *curl, curl_mime *mime, const char *body) {
    curl_mimepart *part = mime != NULL ? libcurl.mime_addpart(mime) : NULL;
    return part != NULL && libcurl.mime_data(part, body, CURL_ZERO_TERMINATED) == CURLE_OK &&
           libcurl.mime_type(part, "text/plain; charset=utf-8") == CURLE_OK &&
           libcurl.mime_encoder(part, "quoted-printable") == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_MIMEPOST, mime) == CURLE_OK;
}

static enum notify_outcome say(struct text *trouble, enum notify_outcome outcome, CURLcode code, long answer,
                               const char *error) {
    if (answer > 0)
        text_printf(trouble, "the server answered %ld%s%s", answer, error[0] != '\0' ? ": " : "", error);
    else
        text_puts(trouble, error[0] != '\0' ? error : libcurl.easy_strerror(code));
    return outcome;
}

/* SMTP: 5xx is for good, 4xx for now. After 354 the text goes out; when it went whole and the line broke,
 * nobody knows.
 */
static enum notify_outcome judge_mail(CURL *curl, CURLcode code, const char *error, struct text *trouble) {
    long answer = 0;
    curl_off_t sent = 0;
    (void)libcurl.easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &answer);
    (void)libcurl.easy_getinfo(curl, CURLINFO_SIZE_UPLOAD_T, &sent);
    if (code == CURLE_OK)
        return NOTIFY_DONE;
    if (code == CURLE_LOGIN_DENIED || code == CURLE_PEER_FAILED_VERIFICATION || code == CURLE_USE_SSL_FAILED)
        return say(trouble, NOTIFY_LATER, code, answer, error); /* people can put that right */
    if (answer >= 500)
        return say(trouble, NOTIFY_REFUSED, code, answer, error);
    if (answer == 354 && sent > 0)
        return say(trouble, NOTIFY_UNSURE, code, 0, error);
    return say(trouble, NOTIFY_LATER, code, answer >= 400 ? answer : 0, error);
}

enum notify_outcome notify_mail(const struct notify_mail *mail, struct text *trouble) {
    char error[CURL_ERROR_SIZE] = "";
    bool good = true;
    enum notify_outcome outcome = NOTIFY_LATER;
    CURL *curl = libcurl.easy_init();
    curl_mime *mime = curl != NULL ? libcurl.mime_init(curl) : NULL;
    struct curl_slist *headers = mail_headers(mail, &good), *to = libcurl.slist_append(NULL, mail->to);
    good =
        good && curl != NULL && to != NULL && set_common(curl, mail->server, "smtp,smtps", error) &&
        libcurl.easy_setopt(curl, CURLOPT_USE_SSL, (long)(mail->plain ? CURLUSESSL_TRY : CURLUSESSL_ALL)) ==
            CURLE_OK &&
        (mail->authority == NULL || libcurl.easy_setopt(curl, CURLOPT_CAINFO, mail->authority) == CURLE_OK) &&
        libcurl.easy_setopt(curl, CURLOPT_MAIL_FROM, mail->from) == CURLE_OK &&
        libcurl.easy_setopt(curl, CURLOPT_MAIL_RCPT, to) == CURLE_OK && set_login(curl, mail->login) &&
        libcurl.easy_setopt(curl, CURLOPT_HTTPHEADER, headers) == CURLE_OK &&
        set_body(curl, mime, mail->body);
    if (good)
        outcome = judge_mail(curl, libcurl.easy_perform(curl), error, trouble);
    else
        text_puts(trouble, "not enough memory, or a login without a colon");
    libcurl.easy_cleanup(curl);
    libcurl.mime_free(mime);
    libcurl.slist_free_all(headers);
    libcurl.slist_free_all(to);
    return outcome;
}

static enum notify_outcome judge_webhook(CURL *curl, CURLcode code, const char *error, int64_t *retry_after_s,
                                         struct text *trouble) {
    long answer = 0;
    curl_off_t sent = 0, wait = 0;
    (void)libcurl.easy_getinfo(curl, CURLINFO_RESPONSE_CODE, &answer);
    (void)libcurl.easy_getinfo(curl, CURLINFO_SIZE_UPLOAD_T, &sent);
    (void)libcurl.easy_getinfo(curl, CURLINFO_RETRY_AFTER, &wait);
    *retry_after_s = wait > 0 && wait < 86400 ? (int64_t)wait : 0;
    if (answer >= 200 && answer < 300)
        return NOTIFY_DONE;
    if (answer == 408 || answer == 425 || answer == 429 || answer >= 500)
        return say(trouble, NOTIFY_LATER, code, answer, "");
    if (answer > 0)
        return say(trouble, NOTIFY_REFUSED, code, answer, "");
    return say(trouble, sent > 0 ? NOTIFY_UNSURE : NOTIFY_LATER, code, 0, error);
}

enum notify_outcome notify_webhook(const struct notify_webhook *webhook, int64_t *retry_after_s,
                                   struct text *trouble) {
    char error[CURL_ERROR_SIZE] = "";
    bool good = true;
    enum notify_outcome outcome = NOTIFY_LATER;
    CURL *curl = libcurl.easy_init();
    struct curl_slist *headers = add_header(NULL, "Content-Type", "application/json", &good);
    headers = add_header(headers, "Idempotency-Key", webhook->id, &good);
    headers = add_header(headers, "Expect", "", &good); /* the body goes along at once */
    bool safe = strncmp(webhook->address, "https:", 6) == 0 || download_on_this_machine(webhook->address);
    *retry_after_s = 0;
    good = good && curl != NULL && set_common(curl, webhook->address, "http,https", error) &&
           libcurl.easy_setopt(curl, CURLOPT_HTTPHEADER, headers) == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_USERAGENT, "waterturn") == CURLE_OK &&
           libcurl.easy_setopt(curl, CURLOPT_POSTFIELDS, webhook->data) == CURLE_OK;
    if (good && safe && webhook->token != NULL)
        good = libcurl.easy_setopt(curl, CURLOPT_XOAUTH2_BEARER, webhook->token) == CURLE_OK &&
               libcurl.easy_setopt(curl, CURLOPT_HTTPAUTH, (long)CURLAUTH_BEARER) == CURLE_OK;
    if (good)
        outcome = judge_webhook(curl, libcurl.easy_perform(curl), error, retry_after_s, trouble);
    else
        text_puts(trouble, "not enough memory");
    libcurl.easy_cleanup(curl);
    libcurl.slist_free_all(headers);
    return outcome;
}
