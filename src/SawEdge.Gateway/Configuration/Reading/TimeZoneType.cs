using System.Diagnostics.CodeAnalysis;

namespace SawEdge.Gateway.Configuration.Reading;

/// <summary>A time zone by its name in the IANA data base.</summary>
internal sealed class TimeZoneType : ConfigType<TimeZoneInfo>
{
    private readonly TextType _text = new("time zone", "Europe/Berlin");

    public override bool TryRead(SourceNode node, string path, ReadContext context, [MaybeNullWhen(false)] out TimeZoneInfo value)
    {
        value = null;
        if (!_text.TryRead(node, path, context, out var text))
            return false;
        if (ZoneNames.TryFind(text, out value))
            return true;
        var known = ZoneNames.Known.ToList();
        var right = ZoneNames.IanaOf(text) is { } iana ? $"that is its name in Windows; write {Words.Quoted(iana)}"
            : Words.Nearest(text, known) is { } nearest ? $"did you mean '{nearest}'?"
            : "write the name of the IANA data base, for example \"Europe/Berlin\" or \"America/Chicago\"";
        context.Findings.Error(path, known.Count > 1 ? $"{Words.Quoted(text)} is no time zone known to this machine; {right}" : $"{Words.Quoted(text)} cannot be found: this machine has no time zones; install its package tzdata");
        return false;
    }

    public override TypeDescription Describe() => _text.Describe();
}
