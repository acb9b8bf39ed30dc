using System.Globalization;
using System.Text;

namespace SawEdge.Gateway.Notification.Messages;

/// <summary>A message as plain text. Pure.</summary>
internal static class PlainText
{
    /// <summary>Writes it; lines end with a line feed.</summary>
    public static string Write(Message message)
    {
        var text = new StringBuilder();
        Line(message.Lead);
        if (message.Alarms.Count != 1)
            Careful();
        foreach (var alarm in message.Alarms)
        {
            Line("");
            Line(alarm.Text);
            if (alarm.MayBe.Length > 0)
                Line($"It may be: {alarm.MayBe}");
            if (message.Alarms.Count == 1)
                Careful();
            foreach (var (name, value) in alarm.Facts)
                Line($"  {name}: {value}");
            foreach (var link in alarm.Links)
                Line($"  {link.Words}: {link.Address.AbsoluteUri}");
        }

        if (message.More > 0)
            Line(string.Create(CultureInfo.InvariantCulture, $"\nAnd {message.More} more; 'sawedge alarm list' shows all."));
        Line("");
        Line("-- ");
        Line(message.Footer);
        return text.ToString();

        void Careful()
        {
            foreach (var caution in message.Cautions)
                Line($"Careful: {caution}");
        }

        void Line(string line) => text.Append(line).Append('\n');
    }
}
