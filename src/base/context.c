/* Status, messages and calls back to the caller. */
#include "brant/base.h"

#include <stdio.h>
#include <string.h>

const char *brant_version(void)
{
    return BRANT_VERSION;
}

void brant_context_init(brant_context *ctx)
{
    memset(ctx, 0, sizeof *ctx);
    ctx->threads = 1;
    pthread_mutex_init(&ctx->lock, NULL);
}

void brant_context_clear(brant_context *ctx)
{
    pthread_mutex_destroy(&ctx->lock);
}

/* A message is one line: a name or a library's own text may hold a newline. */
static void flatten(char *text)
{
    size_t end = strlen(text);
    while (end > 0 && (text[end - 1] == '\n' || text[end - 1] == ' '))
        text[--end] = '\0';
    for (char *c = text; *c; c++)
        if ((unsigned char)*c < 0x20 || *c == 0x7f)
            *c = ' ';
}

brant_status brant_fail(brant_context *ctx, brant_status status, const char *format, ...)
{
    va_list args;
    pthread_mutex_lock(&ctx->lock);
    if (ctx->status == BRANT_OK) {
        ctx->status = status;
        va_start(args, format);
        vsnprintf(ctx->message, sizeof ctx->message, format, args);
        va_end(args);
        flatten(ctx->message);
    }
    pthread_mutex_unlock(&ctx->lock);
    return status;
}

const char *brant_message(const brant_context *ctx)
{
    return ctx->message;
}

void brant_forgive(brant_context *ctx)
{
    pthread_mutex_lock(&ctx->lock);
    ctx->status = BRANT_OK;
    ctx->message[0] = '\0';
    pthread_mutex_unlock(&ctx->lock);
}

static void say(brant_context *ctx, brant_log_level level, const char *format, va_list args)
{
    char text[BRANT_MESSAGE_MAX];
    if (!ctx->log)
        return;
    vsnprintf(text, sizeof text, format, args);
    flatten(text);
    pthread_mutex_lock(&ctx->lock);
    ctx->log(ctx->user, level, text);
    pthread_mutex_unlock(&ctx->lock);
}

void brant_warn(brant_context *ctx, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    say(ctx, BRANT_LOG_WARNING, format, args);
    va_end(args);
}

void brant_note(brant_context *ctx, const char *format, ...)
{
    va_list args;
    va_start(args, format);
    say(ctx, BRANT_LOG_NOTE, format, args);
    va_end(args);
}

void brant_progress(brant_context *ctx, const char *stage, double fraction)
{
    if (!ctx->progress)
        return;
    pthread_mutex_lock(&ctx->lock);
    ctx->progress(ctx->user, stage, fraction);
    pthread_mutex_unlock(&ctx->lock);
}

brant_status brant_check_stop(brant_context *ctx)
{
    if (ctx->stop && atomic_load_explicit(ctx->stop, memory_order_relaxed))
        return brant_fail(ctx, BRANT_ERR_INTERRUPTED, "interrupted");
    return BRANT_OK;
}
