using SawEdge.Core;

namespace SawEdge.Gateway.Api;

/// <summary>What the document says about one endpoint.</summary>
/// <param name="Summary">What it does.</param>
/// <param name="Query">Its parameters in the query, by the names of <see cref="OpenApiTable.Parameters"/>; an exclamation mark behind one: it must be told.</param>
/// <param name="Answer">Type of its answer; null: not told here, or no JSON.</param>
/// <param name="IsList">Whether the answer is <c>{ items, next }</c> of that type.</param>
/// <param name="Body">Type of its body; null: it has none.</param>
/// <param name="Media">Type of the answer's text; several with blanks between them.</param>
internal sealed record OpenApiOperation(string Summary, string Query = "", Type? Answer = null, bool IsList = false, Type? Body = null, string Media = "application/json");

/// <summary>The words of the OpenAPI document: one line an endpoint.</summary>
internal static class OpenApiTable
{
    /// <summary>By method and path under the prefix.</summary>
    public static IReadOnlyDictionary<string, OpenApiOperation> Operations { get; } = new Dictionary<string, OpenApiOperation>(StringComparer.Ordinal)
    {
        ["GET /openapi.json"] = new("This document."),
        ["GET /site"] = new("The plant, its saws, and what the caller may do.", Answer: typeof(SiteView)),
        ["GET /saws"] = new("What each saw does now.", Answer: typeof(SawNow), IsList: true),
        ["GET /saws/{name}"] = new("What one saw does now.", Answer: typeof(SawNow)),
        ["GET /traces"] = new("The load of each saw in the last minutes and what was expected of it.", "saw*", typeof(LoadTrace), IsList: true),
        ["GET /live"] = new("Event stream: events 'saw' (what changed of a saw, at most twice a second), 'alarm', 'cycle', each a JSON object.", "lastEventId", Media: "text/event-stream"),
        ["GET /cycles"] = new("Cycles, page by page.", "saw* from to job material blade outcome minScore order limit cursor", typeof(CycleRecord), IsList: true),
        ["GET /cycles/{id}"] = new("One cycle with its load along the depth, the parts of its score, and the outline of its section.", Answer: typeof(CycleDetail)),
        ["GET /oee"] = new("OEE with its parts and where the time went. Buckets sum to plannedBusyTimeS.", "from! to! saw* by each", typeof(OeeView), IsList: true),
        ["GET /timeline"] = new("What one saw did, moment by moment: shifts, states, cuts. At most 14 days.", "saw! from! to!"),
        ["GET /stops"] = new("Stops with their reasons.", "from! to! saw* least", typeof(StopView), IsList: true),
        ["POST /stops/reasons"] = new("Say why a saw stood. Of entries for the same time the last holds.", Answer: typeof(StopReasonView), Body: typeof(StopReasonBody)),
        ["DELETE /stops/reasons/{id}"] = new("Withdraw a reason."),
        ["GET /scrap"] = new("Parts that are not good.", "from! to! saw*", typeof(ScrapView), IsList: true),
        ["POST /scrap"] = new("Enter parts that are not good: one cut, or a number of parts up to a moment.", Answer: typeof(ScrapView), Body: typeof(ScrapBody)),
        ["DELETE /scrap/{id}"] = new("Withdraw an entry about scrap."),
        ["GET /alarms"] = new("Alarms, the latest first.", "open saw subject rule from to limit cursor", typeof(AlarmView), IsList: true),
        ["GET /alarms/{number}"] = new("One alarm and what happened to it."),
        ["GET /alarms/health"] = new("How healthy the alarms are: how many, how long they stand, which come most.", "days"),
        ["POST /alarms/{number}/acknowledge"] = Answering("Take note of an alarm."),
        ["POST /alarms/{number}/reset"] = Answering("Reset a latched alarm whose condition is gone."),
        ["POST /alarms/{number}/shelve"] = Answering("Put an alarm aside until a moment; needs 'note' and 'until'."),
        ["POST /alarms/{number}/unshelve"] = Answering("Take an alarm from the shelf."),
        ["POST /alarms/{number}/comment"] = Answering("Add a remark; needs 'note'."),
        ["POST /alarms/{number}/confirm"] = Answering("Say that an alarm was right."),
        ["POST /alarms/{number}/reject"] = Answering("Say that nothing was wrong."),
        ["GET /blades"] = new("The blade of each saw, its wear and what is left of it.", Answer: typeof(BladeView), IsList: true),
        ["GET /blades/{saw}"] = new("A blade of a saw with its wear over the area that it cut, and the changes of blades.", "blade", typeof(BladeDetail)),
        ["POST /blades/changes"] = new("Enter that another blade was put on a saw.", Answer: typeof(BladeChangeView), Body: typeof(BladeChangeBody)),
        ["GET /jobs"] = new("The job list as it was read.", Answer: typeof(JobView), IsList: true),
        ["GET /export"] = new("The tables that can be exported, with every column: the data dictionary.", Answer: typeof(ExportTableView), IsList: true),
        ["GET /export/{table}"] = new(
            "A table of the history as a file, in the order in which it came about. It streams; a connection that breaks off before its end means that the table is not whole. What a table cannot be asked for (GET /export, filters) is refused.",
            "saw* from~ to~ job* material* blade* outcome* minScore maxScore columns* units format gzip text",
            Media: "text/csv application/jsonl application/vnd.apache.parquet application/vnd.openxmlformats-officedocument.spreadsheetml.sheet application/gzip"),
        ["GET /audit"] = new("Who changed what, when, and from where; the latest first.", "from to limit cursor", typeof(AuditView), IsList: true),
    };

    /// <summary>The parameters in queries: what they are, and their schema.</summary>
    public static IReadOnlyDictionary<string, (string Words, string Schema)> Parameters { get; } = new Dictionary<string, (string, string)>(StringComparer.Ordinal)
    {
        ["saw"] = ("Name of a saw.", """{ "type": "string" }"""),
        ["saw*"] = ("Name of a saw; may stand there several times. Left out: all.", """{ "type": "array", "items": { "type": "string" } }"""),
        ["subject"] = ("What the alarm is about, where it is no saw: a source, destination, channel or gateway.", """{ "type": "string" }"""),
        ["from"] = ("Begin of the period, RFC 3339.", """{ "type": "string", "format": "date-time" }"""),
        ["to"] = ("End of the period, which no longer belongs to it, RFC 3339. At most 400 days after from.", """{ "type": "string", "format": "date-time" }"""),
        ["from~"] = ("Begin of the period, RFC 3339. Left out: from the beginning.", """{ "type": "string", "format": "date-time" }"""),
        ["to~"] = ("End of the period, which no longer belongs to it, RFC 3339. Left out: to the end.", """{ "type": "string", "format": "date-time" }"""),
        ["job"] = ("Only this job.", """{ "type": "string" }"""),
        ["material"] = ("Only this material.", """{ "type": "string" }"""),
        ["blade"] = ("This blade.", """{ "type": "string" }"""),
        ["outcome"] = ("Only this outcome.", """{ "type": "string", "enum": ["completed", "trim", "partial", "aborted", "interrupted", "unobserved_start", "unobserved_end"] }"""),
        ["job*"] = ("Only this job; may stand there several times.", """{ "type": "array", "items": { "type": "string" } }"""),
        ["material*"] = ("Only this material; may stand there several times.", """{ "type": "array", "items": { "type": "string" } }"""),
        ["blade*"] = ("Only this blade; may stand there several times.", """{ "type": "array", "items": { "type": "string" } }"""),
        ["outcome*"] = ("Only this outcome; may stand there several times.", """{ "type": "array", "items": { "type": "string", "enum": ["completed", "trim", "partial", "aborted", "interrupted", "unobserved_start", "unobserved_end"] } }"""),
        ["maxScore"] = ("Only cycles with at most this load score.", """{ "type": "number", "minimum": 0 }"""),
        ["columns*"] = ("Only these columns, in this order, by their metric names, with commas between them; may stand there several times. Left out: all.", """{ "type": "array", "items": { "type": "string" } }"""),
        ["units"] = ("Units of the values and of the columns' names.", """{ "type": "string", "enum": ["metric", "inch"], "default": "metric" }"""),
        ["format"] = ("How the table is written.", """{ "type": "string", "enum": ["csv", "jsonl", "parquet", "xlsx"], "default": "csv" }"""),
        ["gzip"] = ("Whether CSV and JSON lines are compressed: a file that ends with .gz.", """{ "type": "boolean", "default": false }"""),
        ["text"] = ("In CSV and workbooks: 'safe' puts a single quote before texts that a spreadsheet would run as a formula, 'as-is' leaves them.", """{ "type": "string", "enum": ["safe", "as-is"], "default": "safe" }"""),
        ["minScore"] = ("Only cycles with at least this load score.", """{ "type": "number", "minimum": 0 }"""),
        ["order"] = ("The latest or the earliest first.", """{ "type": "string", "enum": ["latest", "earliest"], "default": "latest" }"""),
        ["limit"] = ("Items at most.", """{ "type": "integer", "minimum": 1, "maximum": 500, "default": 100 }"""),
        ["cursor"] = ("'next' of the page before.", """{ "type": "string" }"""),
        ["by"] = ("What the items are about.", """{ "type": "string", "enum": ["saw", "group", "site"], "default": "saw" }"""),
        ["each"] = ("The span of each item.", """{ "type": "string", "enum": ["hour", "shift", "day", "week", "whole"], "default": "whole" }"""),
        ["least"] = ("Only stops of at least so many seconds.", """{ "type": "number", "minimum": 0 }"""),
        ["open"] = ("Only alarms that are not closed.", """{ "type": "boolean", "default": false }"""),
        ["rule"] = ("Only alarms of this rule.", """{ "type": "string" }"""),
        ["days"] = ("Over so many days.", """{ "type": "integer", "minimum": 1, "default": 30 }"""),
        ["lastEventId"] = ("The last event that was read, where no header Last-Event-ID can be set.", """{ "type": "string" }"""),
    };

    private static OpenApiOperation Answering(string summary) =>
        new($"{summary} Answered once the gateway acted on it: 200 with the alarm as it is then, 409 with the reason why not, 202 where it takes longer.", Answer: typeof(AlarmView), Body: typeof(AlarmAnswerBody));
}
