/* What systemd is told (sd_notify(3)): a datagram to the socket that it names. Without that socket nothing is
 * done. */
#ifndef WATERTURN_SUPERVISOR_H
#define WATERTURN_SUPERVISOR_H

/* "READY=1", "STATUS=...", "WATCHDOG=1", "STOPPING=1", "RELOADING=1"; several lines at once may be sent. */
void supervisor_tell(const char *format, ...) __attribute__((format(printf, 1, 2)));

/* How often the watchdog wants a sign, ms: half of what it waits; 0: there is none. */
int supervisor_watchdog_ms(void);

#endif
