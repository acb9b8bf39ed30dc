using System.Globalization;
using System.Text;
using SawEdge.Core.Alarms;

namespace SawEdge.Gateway.Configuration;

/// <summary>A template of JSON: what comes in for a name depends on whether the name stands within a JSON string. Pure.</summary>
internal static class JsonTemplate
{
    // Characters that no text holds (Unicode, section 23.7, noncharacters): names are marked with them first, then replaced by what fits the place.
    private const char Begin = '\uFDD0';
    private const char End = '\uFDD1';

    /// <summary>Writes the text.</summary>
    /// <param name="template">The template.</param>
    /// <param name="write">What comes in for a name; told whether it stands within a string.</param>
    public static string Fill(AlarmTemplate template, Func<string, bool, string> write)
    {
        var marked = template.Fill(template.Names.ToDictionary(name => name, name => AlarmFact.Words(Begin + name + End)), (value, _) => value.ToString(CultureInfo.InvariantCulture));
        var text = new StringBuilder();
        var inString = false;
        for (var i = 0; i < marked.Length; i++)
        {
            var c = marked[i];
            if (c == Begin && marked.IndexOf(End, i) is var end and > 0)
            {
                text.Append(write(marked[(i + 1)..end], inString));
                i = end;
                continue;
            }

            if (c == '"')
                inString = !inString;
            text.Append(c);
            // What follows a backslash in a string is no end of it.
            if (c == '\\' && inString && i + 1 < marked.Length && marked[i + 1] != Begin)
                text.Append(marked[++i]);
        }

        return text.ToString();
    }
}
