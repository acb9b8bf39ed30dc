using Microsoft.Extensions.Logging;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Processing.Alarms;

/// <summary>What is said of alarms, event ids 3200 and up.</summary>
internal static partial class AlarmLog
{
    [LoggerMessage(3200, LogLevel.Warning, "alarm {Number}, {Severity}: {Text} (rule '{Rule}', {Subject})")]
    public static partial void Raised(ILogger logger, long number, string severity, string text, string rule, AlarmSubject subject);

    [LoggerMessage(3201, LogLevel.Information, "alarm {Number} of rule '{Rule}', {Subject}: the condition is gone")]
    public static partial void Cleared(ILogger logger, long number, string rule, AlarmSubject subject);

    [LoggerMessage(3202, LogLevel.Information, "alarm {Number}, not announced ({State}): {Text} (rule '{Rule}', {Subject})")]
    public static partial void Unannounced(ILogger logger, long number, string state, string text, string rule, AlarmSubject subject);

    [LoggerMessage(3203, LogLevel.Information, "alarm {Number} of rule '{Rule}', {Subject}: {What}, by {Who}. {Note}")]
    public static partial void Answered(ILogger logger, long number, string rule, AlarmSubject subject, string what, string who, string note);

    [LoggerMessage(3204, LogLevel.Warning, "alarm {Number} of rule '{Rule}', {Subject}: comes and goes too often; it is held until it has been quiet")]
    public static partial void Chattering(ILogger logger, long number, string rule, AlarmSubject subject);

    [LoggerMessage(3205, LogLevel.Information, "alarms: {Open} are open from the last run")]
    public static partial void Continued(ILogger logger, int open);

    [LoggerMessage(3206, LogLevel.Error, "what was remembered of the alarms cannot be used ({Reason}); they go on from the open ones in the history, and what was put aside in advance is forgotten")]
    public static partial void BoardUnusable(ILogger logger, string reason);

    [LoggerMessage(3210, LogLevel.Error, "what was remembered of who is told cannot be used ({Reason}); reminders and escalations of open alarms are forgotten")]
    public static partial void PlanUnusable(ILogger logger, string reason);

    [LoggerMessage(3207, LogLevel.Warning, "answers to alarms cannot be looked for at the moment: {Reason}")]
    public static partial void AnswersUnread(ILogger logger, string reason);

    [LoggerMessage(3208, LogLevel.Information, "answers to alarms can be looked for again")]
    public static partial void AnswersReadAgain(ILogger logger);

    [LoggerMessage(3209, LogLevel.Warning, "what was stored of the alarms cannot be read at the moment: {Reason}")]
    public static partial void MemoryUnread(ILogger logger, string reason);
}
