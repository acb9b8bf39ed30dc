using System.Diagnostics.CodeAnalysis;
using System.Globalization;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>A date.</summary>
internal sealed class DateType : ConfigType<DateOnly>
{
    private readonly TextType _text = new("date", "2026-12-24") { Pattern = "^[0-9]{4}-[0-9]{2}-[0-9]{2}$" };

    public override bool TryRead(SourceNode node, string path, ReadContext context, out DateOnly value)
    {
        value = default;
        if (!_text.TryRead(node, path, context, out var text))
            return false;
        if (DateOnly.TryParseExact(text, "yyyy-MM-dd", CultureInfo.InvariantCulture, DateTimeStyles.None, out value) && value.Year is >= 2000 and < 9000)
            return true;
        context.Findings.Error(path, $"{Words.Quoted(text)} is no date; write year, month and day, for example \"2026-12-24\"");
        return false;
    }

    public override TypeDescription Describe() => _text.Describe();
}

/// <summary>A moment by the clock of the plant.</summary>
internal sealed class ClockMomentType : ConfigType<DateTime>
{
    private readonly TextType _text = new("date and time of day", "2026-12-24 13:30") { Pattern = "^[0-9]{4}-[0-9]{2}-[0-9]{2}[ T][0-9]{2}:[0-9]{2}$" };

    public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out DateTime value)
    {
        value = default;
        if (!_text.TryRead(node, path, context, out var text))
            return false;
        if (DateTime.TryParseExact(text.Replace('T', ' '), "yyyy-MM-dd HH:mm", CultureInfo.InvariantCulture, DateTimeStyles.None, out value) && value.Year is >= 2000 and < 9000)
            return true;
        context.Findings.Error(path, $"{Words.Quoted(text)} is no date and time of day; write for example \"2026-12-24 13:30\", by the clock of the plant");
        return false;
    }

    public override TypeDescription Describe() => _text.Describe();
}
