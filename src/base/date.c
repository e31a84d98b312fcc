#include "date.h"

/* Days are counted in years that begin on 1 March, so that the leap day is the last of its year
 * ("days from civil" arithmetic): month m of such a year, 0 = March, begins on day (153 m + 2) / 5,
 * and 400 years are always 146097 days. */
enum { DAYS_OF_400_YEARS = 146097, DAYS_TO_1970 = 719468 /* from 0000-03-01 */ };

static int64_t floor_div(int64_t a, int64_t b)
{
    return a / b - (a % b < 0);
}

static int64_t days_of(int64_t year, int month, int day)
{
    int64_t y = year - (month < 3);
    int64_t m = month < 3 ? month + 9 : month - 3;

    return 365 * y + floor_div(y, 4) - floor_div(y, 100) + floor_div(y, 400) + (153 * m + 2) / 5
           + day - 1 - DAYS_TO_1970;
}

static void parts_of(int64_t days, int64_t *year, int *month, int *day)
{
    int64_t since = days + DAYS_TO_1970;
    int64_t era = floor_div(since, DAYS_OF_400_YEARS);
    int64_t d = since - era * DAYS_OF_400_YEARS; /* 0..146096 */
    int64_t y = (d - d / 1460 + d / 36524 - d / 146096) / 365;
    int64_t in_year = d - (365 * y + y / 4 - y / 100);
    int64_t m = (5 * in_year + 2) / 153;

    *day = (int)(in_year - (153 * m + 2) / 5) + 1;
    *month = (int)(m < 10 ? m + 3 : m - 9);
    *year = y + era * 400 + (*month < 3);
}

int32_t mb_day_number(int year, int month, int day)
{
    return (int32_t)days_of(year, month, day);
}

void mb_day_parts(int32_t day, int *year, int *month, int *date)
{
    int64_t y;

    parts_of(day, &y, month, date);
    *year = (int)y;
}

char *mb_day_write(mb_arena *arena, int32_t day)
{
    int year, month, date;

    mb_day_parts(day, &year, &month, &date);
    return mb_arena_printf(arena, "%04d-%02d-%02d", year, month, date);
}

static int month_length(int year, int month)
{
    static const int length[] = { 31, 28, 31, 30, 31, 30, 31, 31, 30, 31, 30, 31 };
    bool leap = year % 4 == 0 && (year % 100 != 0 || year % 400 == 0);

    return length[month - 1] + (month == 2 && leap);
}

static bool digits(struct mb_str s, size_t from, size_t count, int *number)
{
    *number = 0;
    if (from + count > s.len)
        return false;
    for (size_t i = from; i < from + count; i++) {
        if (s.at[i] < '0' || s.at[i] > '9')
            return false;
        *number = *number * 10 + (s.at[i] - '0');
    }
    return true;
}

struct calendar_date {
    int year, month, day; /* month and day are 0 where the date does not go so far */
};

static bool date_exists(const struct calendar_date *d)
{
    if (d->month == 0)
        return true;
    if (d->month > 12)
        return false;
    return d->day <= month_length(d->year, d->month);
}

/* YYYY, YYYY-MM or YYYY-MM-DD */
static bool date_read(struct mb_str s, struct calendar_date *d)
{
    *d = (struct calendar_date){ 0 };
    if (!digits(s, 0, 4, &d->year))
        return false;
    if (s.len > 4 && (s.at[4] != '-' || !digits(s, 5, 2, &d->month) || d->month == 0))
        return false;
    if (s.len > 7 && (s.at[7] != '-' || !digits(s, 8, 2, &d->day) || d->day == 0))
        return false;
    return (s.len == 4 || s.len == 7 || s.len == 10) && date_exists(d);
}

/* The end of an interval may leave out what it shares with the beginning: -05-02/04, -05-02/06-04,
 * -05/06. It goes as far as the beginning then. */
static bool end_read(struct mb_str s, const struct calendar_date *first, struct calendar_date *d)
{
    *d = *first;
    if (s.len == 2 && first->day != 0)
        return digits(s, 0, 2, &d->day) && d->day != 0 && date_exists(d);
    if (s.len == 2 && first->month != 0)
        return digits(s, 0, 2, &d->month) && d->month != 0 && date_exists(d);
    if (s.len == 5 && first->day != 0)
        return digits(s, 0, 2, &d->month) && s.at[2] == '-' && digits(s, 3, 2, &d->day)
               && d->month != 0 && d->day != 0 && date_exists(d);
    return date_read(s, d);
}

static int32_t first_day(const struct calendar_date *d)
{
    return mb_day_number(d->year, d->month == 0 ? 1 : d->month, d->day == 0 ? 1 : d->day);
}

static int32_t last_day(const struct calendar_date *d)
{
    int month = d->month == 0 ? 12 : d->month;

    return mb_day_number(d->year, month, d->day == 0 ? month_length(d->year, month) : d->day);
}

static bool in_range(int year)
{
    return year >= 1500 && year <= 2999;
}

bool mb_days_read(struct mb_str text, struct mb_days *out)
{
    struct calendar_date first, last;
    struct mb_days days;
    size_t slash = 0;

    while (slash < text.len && text.at[slash] != '/')
        slash++;
    if (!date_read((struct mb_str){ text.at, slash }, &first))
        return false;
    last = first;
    if (slash < text.len
        && !end_read((struct mb_str){ text.at + slash + 1, text.len - slash - 1 }, &first, &last))
        return false;
    if (!in_range(first.year) || !in_range(last.year))
        return false;
    days = (struct mb_days){ first_day(&first), last_day(&last) };
    if (days.last < days.first)
        return false;
    *out = days;
    return true;
}

char *mb_moment_write(mb_arena *arena, int64_t seconds)
{
    int64_t day = floor_div(seconds, 86400), year;
    int rest = (int)(seconds % 86400 + 86400) % 86400, month, date;

    parts_of(day, &year, &month, &date);
    return mb_arena_printf(arena, "%04lld-%02d-%02dT%02d:%02d:%02dZ", (long long)year, month, date,
                           rest / 3600, rest / 60 % 60, rest % 60);
}

bool mb_moment_read(struct mb_str text, int64_t *seconds)
{
    struct calendar_date d;
    int hour, minute, second;

    if (text.len != 20 || text.at[10] != 'T' || text.at[13] != ':' || text.at[16] != ':'
        || text.at[19] != 'Z' || !date_read((struct mb_str){ text.at, 10 }, &d))
        return false;
    if (!digits(text, 11, 2, &hour) || !digits(text, 14, 2, &minute)
        || !digits(text, 17, 2, &second) || hour > 23 || minute > 59 || second > 59)
        return false;
    *seconds = days_of(d.year, d.month, d.day) * 86400 + hour * 3600 + minute * 60 + second;
    return true;
}
