using System.Globalization;
using System.Security.Cryptography;
using System.Text;
using System.Text.Encodings.Web;
using SawEdge.Core.Alarms;
using SawEdge.Core.Signals;
using SawEdge.Gateway.Formats;

namespace SawEdge.Gateway.Api;

/// <summary>The pages behind the links in messages: plain HTML that reads well on a phone, nothing loaded, nothing executed.</summary>
/// <param name="site">Name of the plant.</param>
/// <param name="zone">The plant's time zone.</param>
internal sealed class AnswerPage(string site, TimeZoneInfo zone)
{
    private const string Style =
        "body{font:1.1rem/1.5 system-ui,sans-serif;max-width:38rem;margin:0 auto;padding:1rem;color:#1a1a1a;background:#fff;overflow-wrap:anywhere}" +
        "h1{font-size:1.3rem}dt{font-size:.9rem;color:#555;margin-top:.6rem}dd{margin:0}.caution{border-left:.3rem solid #b45309;padding:.3rem .8rem;background:#fff7ed}" +
        "button{font:inherit;font-weight:600;width:100%;padding:.9rem;margin-top:1rem;border:0;border-radius:.4rem;background:#1d4ed8;color:#fff}" +
        "input{font:inherit;box-sizing:border-box;width:100%;padding:.6rem;border:1px solid #777;border-radius:.3rem}.problem{color:#b91c1c}small{color:#555}";

    /// <summary>What a browser may do with the pages: apply their style and send their form back, nothing else.</summary>
    public static string ContentSecurityPolicy { get; } =
        $"default-src 'none'; style-src 'sha256-{Convert.ToBase64String(SHA256.HashData(Encoding.UTF8.GetBytes(Style)))}'; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

    /// <summary>The longest reason or remark that is taken, characters.</summary>
    public const int LongestNote = ControllerText.MaximumLength;

    /// <summary>What a link does, with the button that does it.</summary>
    /// <param name="link">The link.</param>
    /// <param name="alarm">The alarm as it is now.</param>
    /// <param name="problem">What is wrong with what was sent, or empty.</param>
    public string Ask(AnswerLink link, Alarm alarm, string problem = "")
    {
        var page = new StringBuilder();
        page.Append(CultureInfo.InvariantCulture, $"<h1>{Text(Deed(link))} alarm {alarm.Number}?</h1>");
        if (problem.Length > 0)
            page.Append(CultureInfo.InvariantCulture, $"<p class=\"problem\">{Text(problem)}</p>");
        Describe(page, alarm);
        page.Append("<form method=\"post\">");
        var isNeeded = NeedsNote(link.Action);
        page.Append(CultureInfo.InvariantCulture, $"<p><label for=\"note\">{(isNeeded ? "Reason" : "Remark (may stay empty)")}</label><input id=\"note\" name=\"note\" maxlength=\"{LongestNote}\" autocomplete=\"off\"{(isNeeded ? " required" : "")}></p>");
        page.Append(CultureInfo.InvariantCulture, $"<button type=\"submit\">{Text(Deed(link))}</button></form>");
        page.Append(CultureInfo.InvariantCulture, $"<p><small>Nothing has been done yet. The answer is recorded as given by {Text(link.Contact)}. The link works once, until {Moment(link.Expires)}.</small></p>");
        return Whole($"{Deed(link)} alarm {alarm.Number}?", page);
    }

    /// <summary>What was done, or why not.</summary>
    /// <param name="heading">The outcome in a few words.</param>
    /// <param name="words">More about it.</param>
    /// <param name="alarm">The alarm as it is now, or null.</param>
    public string Say(string heading, string words, Alarm? alarm = null)
    {
        var page = new StringBuilder();
        page.Append(CultureInfo.InvariantCulture, $"<h1>{Text(heading)}</h1><p>{Text(words)}</p>");
        if (alarm is not null)
            Describe(page, alarm);
        return Whole(heading, page);
    }

    /// <summary>Whether an answer needs a reason.</summary>
    public static bool NeedsNote(AlarmAction action) => action == AlarmAction.Shelve;

    /// <summary>What a link does, as a button says it.</summary>
    public static string Deed(AnswerLink link) => link.Action switch
    {
        AlarmAction.Acknowledge => "Acknowledge",
        AlarmAction.Shelve => string.Create(CultureInfo.InvariantCulture, $"Shelve for {LinkSigner.ShelfTime.TotalHours:0.#} h"),
        AlarmAction.Confirm => "Confirm",
        AlarmAction.Reject => "Reject (nothing was wrong)",
        _ => throw new ArgumentOutOfRangeException(nameof(link), link.Action, "No link says this."),
    };

    private void Describe(StringBuilder page, Alarm alarm)
    {
        page.Append("<dl>");
        Item(page, "About", alarm.Subject.ToString());
        Item(page, "What was measured", alarm.Text);
        Item(page, "What it may be", alarm.MayBe);
        Item(page, "Severity", alarm.Severity.ToName());
        Item(page, "Raised", Moment(alarm.RaisedAt));
        if (alarm.ClearedAt is { } cleared)
            Item(page, "Condition gone", Moment(cleared));
        Item(page, "State", alarm.State.ToName().Replace('_', ' '));
        if (alarm.AcknowledgedAt is { } acknowledged)
            Item(page, "Acknowledged", $"{Moment(acknowledged)} by {alarm.AcknowledgedBy}");
        page.Append("</dl>");
        if (alarm.Caution.Length > 0)
            page.Append(CultureInfo.InvariantCulture, $"<p class=\"caution\">{Text(alarm.Caution)}</p>");
    }

    private static void Item(StringBuilder page, string name, string value)
    {
        if (value.Length > 0)
            page.Append(CultureInfo.InvariantCulture, $"<dt>{Text(name)}</dt><dd>{Text(value)}</dd>");
    }

    private string Whole(string title, StringBuilder body) =>
        $"<!DOCTYPE html><html lang=\"en\"><head><meta charset=\"utf-8\"><meta name=\"viewport\" content=\"width=device-width,initial-scale=1\"><meta name=\"robots\" content=\"noindex\"><title>{Text(title)}</title><style>{Style}</style></head><body>{body}<p><small>{Text(site)}</small></p></body></html>";

    private string Moment(DateTimeOffset at)
    {
        var local = TimeZoneInfo.ConvertTime(at, zone);
        return string.Create(CultureInfo.InvariantCulture, $"{local:yyyy-MM-dd HH:mm:ss zzz}");
    }

    // Everything that stands on a page passes through here: names and texts come from controllers and people.
    private static string Text(string text) => HtmlEncoder.Default.Encode(text);
}
